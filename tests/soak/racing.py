"""A customer's yes against everything that may happen at the same moment, and eight editors of one draft.

Started as ``python -m tests.soak.racing races OFFER COUNT`` or ``… editors QUOTE SAVES`` on the database of
``DATABASE_URL``; prints as JSON what happened, and what is wrong with it.
"""

from __future__ import annotations

import datetime as dt
import json
import random
import sys
import threading
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

EDITORS: Final = 8
#: The longest the other act waits: about what a yes takes. [s]
LATER_S: Final = 0.15
DAY: Final = dt.timedelta(days=1)
Act = Callable[[], str]


class Table:
    """An offer of two options that is out; it is laid out anew for each race."""

    def __init__(self, offer_pk: int) -> None:
        from jobs.models import Offer

        self.wrong: list[str] = []
        self.offer = Offer.objects.select_related("job__shop").get(pk=offer_pk)
        self.job = self.offer.job
        self.owner = self.job.shop.memberships.get(role="owner").user
        self.options = list(self.offer.quotes.order_by("pk"))
        self.kept = [quote.pk for quote in self.job.quotes.all()]
        self.valid_until = self.options[0].valid_until_date
        self.acts: dict[str, Act] = {
            "twice": lambda: self.accept(0),
            "two options": lambda: self.accept(1),
            "edit of a draft": self.edit,
            "copy sent": self.copy,
            "revoke": self.revoke,
            "expiry": self.expire,
            "withdrawal": self.withdraw,
            "decline": self.decline,
        }

    def lay(self) -> None:
        """Put both options out again, with a new link and a draft beside them."""
        from django.utils import timezone

        from common.guard import door_opened
        from jobs.models import Job, Quote
        from jobs.quote.draft import quote_copy
        from jobs.quote.send import quote_link

        with door_opened():
            Quote.objects.filter(job=self.job).exclude(pk__in=self.kept).delete()
            Quote.objects.filter(pk__in=[quote.pk for quote in self.options]).update(
                state="sent", answered_at=None, accepted_by_name="", answer_note="", chosen_positions=[],
                agreed_total=None, valid_until_date=self.valid_until,
            )  # fmt: skip
            Job.objects.filter(pk=self.job.pk).update(state="quoted")
        now = timezone.now()
        self.link, self.token = quote_link(quote=self.options[0], actor=self.owner, at=now)
        self.draft = quote_copy(quote=self.options[0], actor=self.owner, at=now)

    def page(self) -> tuple[Any, str]:
        """Open the link as a browser does; return the browser and the word of the page."""
        from django.test import Client

        from tests.guests import word_of

        client = Client(raise_request_exception=False, headers={"host": "localhost"})
        return client, word_of(client, self.token)

    def accept(self, place: int, opened: tuple[Any, str] | None = None) -> str:
        """Sign for an option on its page."""
        from tests.guests import clean

        quote = self.options[place]
        client, word = opened or self.page()
        sent = {
            "answer_word": word, "signed_name": "Nell Pardee", "is_typed": "on", "option": quote.number,
            "content_sha256": self.offer.content_sha256, "shown_total": str(quote.total),
        }  # fmt: skip
        status = client.post(clean(self.token, "accept"), sent).status_code
        return {302: "yes", 422: "no", 404: "no", 410: "no"}.get(status, f"answered {status}")

    def edit(self) -> str:
        """Save the draft beside it with one more line."""
        return _saved(self.draft, self.owner, "A line added meanwhile")

    def copy(self) -> str:
        """Send the copied draft in the option's stead."""
        from django.utils import timezone

        from jobs.quote.send import quote_send

        return _told(
            lambda: quote_send(quote=self.draft, actor=self.owner, at=timezone.now(), reason="Racing")
        )

    def revoke(self) -> str:
        """Take the link back."""
        from django.utils import timezone

        from jobs.quote.guest_link import link_revoke

        return _told(lambda: link_revoke(link=self.link, actor=self.owner, at=timezone.now()))

    def expire(self) -> str:
        """Have the last day pass."""
        from jobs.models import Quote

        past = self.valid_until - 400 * DAY
        return _told(lambda: Quote.objects.filter(pk=self.options[0].pk).update(valid_until_date=past))

    def withdraw(self) -> str:
        """Take the option back."""
        from django.utils import timezone

        from jobs.quote.send import quote_withdraw

        first, at = self.options[0], timezone.now()
        return _told(lambda: quote_withdraw(quote=first, reason="Racing", actor=self.owner, at=at))

    def decline(self) -> str:
        """Say no to the other option, which closes both."""
        from django.utils import timezone

        from jobs.quote.answer import quote_decline

        other, at = self.options[1], timezone.now()
        return _told(lambda: quote_decline(quote=other, signed_name="Nell Pardee", reason="Dear", at=at))

    def race(self, name: str) -> str:
        """Run a yes against one other act; note what is wrong and return the outcome."""
        self.lay()
        opened = [self.page(), self.page()]
        second = self.acts[name]
        if name in ("twice", "two options"):
            second = lambda: self.accept(int(name == "two options"), opened[1])  # noqa: E731
        yes, other = side_by_side([lambda: self.accept(0, opened[0]), lambda: _a_little_later(second)])
        self.look(name, yes, other)
        return f"{name}: {yes}/{other}"

    def look(self, name: str, yes: str, other: str) -> None:
        """Compare what is stored with what was answered."""
        from jobs.models import Job
        from jobs.quote.document import content_sha256

        stored = list(self.job.quotes.filter(state="accepted"))
        signers = [yes, other] if name in ("twice", "two options") else [yes]
        wrong = [answer for answer in (yes, other) if answer not in ("yes", "no")]
        if len(stored) != signers.count("yes"):
            wrong.append(f"{signers.count('yes')} told accepted, {len(stored)} stored")
        one_only = ("twice", "two options", "withdrawal", "decline", "copy sent")
        if name in one_only and [yes, other].count("yes") != 1:
            wrong.append(f"not one outcome: {yes} and {other}")
        if name in ("revoke", "expiry", "edit of a draft") and other != "yes":
            wrong.append("the other act was refused")
        for quote in stored:
            shown = next(option for option in self.options if option.pk == quote.pk)
            if quote.agreed_total != shown.total or quote.content_sha256 != shown.content_sha256:
                wrong.append("accepted is not what was shown")
            if content_sha256(quote.snapshot) != quote.content_sha256:
                wrong.append("the words are not those of the hash")
            if self.job.quotes.filter(state="sent").exists():
                wrong.append("another one is still open")
            if Job.objects.get(pk=self.job.pk).state != "accepted":
                wrong.append("the job is not accepted")
        if name == "revoke" and yes == "yes" and not self.was_before_revoke():
            wrong.append("accepted through a link taken back")
        self.wrong += [f"{name}: {each}" for each in wrong]

    def was_before_revoke(self) -> bool:
        """Return whether the log tells the yes before the link was taken back."""
        from jobs.models import LogEntry

        rows = LogEntry.objects.filter(job=self.job)
        verbs = rows.filter(verb__in=["quote accepted", "guest link taken back"])
        return [row.verb for row in verbs.order_by("-pk")[:2]] == ["guest link taken back", "quote accepted"]


def _a_little_later(act: Act) -> str:
    """Begin within the time a yes takes, so that each of the two comes first some of the time."""
    time.sleep(random.uniform(0, LATER_S))
    return act()


def side_by_side(acts: list[Act]) -> list[str]:
    """Begin all acts at one moment, each with a connection of its own; return what each said."""
    start, said = threading.Barrier(len(acts)), [""] * len(acts)

    def work(place: int) -> None:
        from django.db import connection

        connection.ensure_connection()
        start.wait(30)
        try:
            said[place] = acts[place]()
        except Exception as problem:
            traceback.print_exc()
            said[place] = f"{type(problem).__name__}: {problem}"[:200]
        connection.close()

    threads = [threading.Thread(target=work, args=(place,)) for place in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return said


def _told(act: Callable[[], object]) -> str:
    from jobs.shop.refusals import Refusal

    try:
        act()
    except Refusal:
        return "no"
    return "yes"


def _saved(quote: Any, actor: Any, text: str) -> str:
    """Save a draft with its first line's words changed, as a page read a moment ago."""
    from django.utils import timezone

    from jobs.models import Quote
    from jobs.quote.draft import quote_price, scope_of, terms_of
    from jobs.quote.lines import draft_of

    read = Quote.objects.get(pk=quote.pk)
    lines = [draft_of(line) for line in read.lines.order_by("position")]
    lines[0] = replace(lines[0], text=text)
    return _told(
        lambda: quote_price(
            quote=read, terms=terms_of(read), lines=lines, scope=scope_of(read), edits=read.edits,
            actor=actor, at=timezone.now(),
        )
    )  # fmt: skip


def races(offer_pk: int, count: int) -> dict[str, Any]:
    """Run so many races, every kind in its turn."""
    from jobs.views import guest_door

    guest_door.is_too_often = lambda *_a, **_k: False  # one customer answers a thousand times here
    table = Table(offer_pk)
    names = list(table.acts)
    said = Counter(table.race(names[turn % len(names)]) for turn in range(count))
    return {"said": said, "wrong": table.wrong}


def editors(quote_pk: int, saves: int) -> dict[str, Any]:
    """Have eight people save one draft so often each; a refused one reads again and goes on."""
    from jobs.models import Quote

    quote = Quote.objects.select_related("job__shop").get(pk=quote_pk)
    owner = quote.job.shop.memberships.get(role="owner").user
    said: list[list[tuple[str, str]]] = [[] for _ in range(EDITORS)]

    def edit(place: int) -> str:
        for turn in range(saves):
            text = f"Editor {place} save {turn}"
            said[place].append((text, _saved(quote, owner, text)))
        return "done"

    ends = side_by_side([lambda place=place: edit(place) for place in range(EDITORS)])  # type: ignore[misc]
    after = Quote.objects.get(pk=quote_pk)
    taken = [text for each in said for text, answer in each if answer == "yes"]
    told = Counter(answer for each in said for _, answer in each)
    wrong = [end for end in ends if end != "done"]
    if after.edits - quote.edits != len(taken):
        wrong.append(f"{len(taken)} saves taken, {after.edits - quote.edits} versions")
    if after.lines.order_by("position").first().text not in taken:
        wrong.append("what stands was not told as taken")
    from jobs.models import LogEntry

    logged = LogEntry.objects.filter(job=quote.job, verb="quote priced", detail__startswith=f"{quote}:")
    return {"said": told, "wrong": wrong, "logged": logged.count()}


def main() -> None:
    """Run what the command line names and print what came of it."""
    import django

    django.setup()
    random.seed(0)
    act = {"races": races, "editors": editors}[sys.argv[1]]
    print(json.dumps(act(int(sys.argv[2]), int(sys.argv[3]))))


if __name__ == "__main__":
    main()
