"""Reading a survey's overview."""

from __future__ import annotations

import pytest

from jobs.models import Job, Survey


@pytest.fixture
def path(golden_job):
    return f"/jobs/{golden_job.pk}/survey/"


class TestSurveyDetail:
    def test_it_works(self, client_of, erin, path):
        page = client_of(erin).get(path).content.decode()
        assert "Before a string plan" in page
        assert "Nothing is missing." in page
        assert "<svg" in page

    def test_it_lists_what_is_missing_with_a_way_to_the_field(self, client_of, erin, golden_job, path):
        Survey.objects.filter(job=golden_job).update(crown_mm=None, guessed_fields=["roof.deck"])
        page = client_of(erin).get(path).content.decode()
        assert f'href="{path}roof/#id_crown_mm"' in page
        assert "Known, but a guess" in page
        assert "deck thickness" in page

    def test_it_offers_to_mark_the_job_surveyed(self, client_of, erin, golden_job, path):
        Job.objects.filter(pk=golden_job.pk).update(state=Job.State.SURVEY_BOOKED)
        assert "Mark as surveyed" in client_of(erin).get(path).content.decode()
        client_of(erin).post(f"/jobs/{golden_job.pk}/move/", {"to": "surveyed"})
        golden_job.refresh_from_db()
        assert golden_job.state == Job.State.SURVEYED

    @pytest.mark.parametrize("person", ["alice", "bob", "lena", "ken"])
    def test_everybody_of_the_shop_reads_it(self, client_of, path, person, request):
        assert client_of(request.getfixturevalue(person)).get(path).status_code == 200

    def test_it_takes_few_queries(self, client_of, erin, path, django_assert_max_num_queries):
        client = client_of(erin)
        with django_assert_max_num_queries(12):
            client.get(path)

    def test_it_asks_for_a_sign_in(self, client, path):
        assert client.get(path).status_code == 302

    def test_it_hides_the_survey_from_a_stranger(self, client_of, charlie, path):
        assert client_of(charlie).get(path).status_code == 404
