"""Looking up a town, or a place the shop has used."""

from __future__ import annotations


class TestPlaceSearch:
    def test_it_works(self, client_of, erin):
        assert 'value="Yuma, AZ"' in client_of(erin).get("/places/?q=yum").content.decode()

    def test_it_reads_the_row_that_asks(self, client_of, erin):
        page = client_of(erin).get("/places/?stops-0f2d7b1c5e8a4c11b6a2d4e6f8091a2b-place=yum")
        assert 'value="Yuma, AZ"' in page.content.decode()

    def test_it_offers_the_shops_own_places_first(self, client_of, erin, golden_job):
        page = client_of(erin).get("/places/?q=hollow").content.decode()
        assert "Hollow Pine camp" in page

    def test_it_offers_nothing_for_nothing(self, client_of, erin):
        assert client_of(erin).get("/places/").content.decode().strip() == ""

    def test_it_hides_the_shops_places_from_a_stranger(self, client_of, charlie, golden_job):
        assert "Hollow Pine" not in client_of(charlie).get("/places/?q=hollow").content.decode()

    def test_it_asks_for_a_sign_in(self, client):
        assert client.get("/places/?q=yum").status_code == 302
