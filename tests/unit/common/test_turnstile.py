"""The turnstile: so many at work, so many wait, the rest is told when to come again."""

from __future__ import annotations

import threading

from django.http import HttpResponse
from django.test import RequestFactory

from common.turnstile import AGAIN_AFTER_S, Turnstile, in_turn


def test_one_works_one_waits_and_the_third_comes_again():
    """Three at once at a turnstile for one and one: two are served, one after the other."""
    begun, may_end, most = threading.Semaphore(0), threading.Event(), []
    inside = []

    def view(request):
        inside.append(1)
        most.append(len(inside))
        begun.release()
        assert may_end.wait(20)
        inside.pop()
        return HttpResponse("done")

    turnstile = Turnstile(at_once=1, waiting=1)
    door = in_turn(turnstile, "POST")(view)
    answers = []
    threads = [
        threading.Thread(target=lambda: answers.append(door(RequestFactory().post("/")))) for _ in range(2)
    ]
    threads[0].start()
    assert begun.acquire(timeout=20)
    threads[1].start()
    while turnstile._inside < 2:
        pass
    third = door(RequestFactory().post("/"))
    assert (third.status_code, third["Retry-After"]) == (503, str(AGAIN_AFTER_S))
    may_end.set()
    for thread in threads:
        thread.join(20)
    assert [answer.status_code for answer in answers] == [200, 200]
    assert max(most) == 1
    assert door(RequestFactory().post("/")).status_code == 200


def test_other_methods_and_faults_hold_no_place():
    def view(request):
        raise ValueError

    turnstile = Turnstile(at_once=1, waiting=0)
    door = in_turn(turnstile, "POST")(view)
    for ask in (RequestFactory().get, RequestFactory().post, RequestFactory().post):
        try:
            door(ask("/"))
        except ValueError:
            continue
        raise AssertionError
    assert turnstile._inside == 0
