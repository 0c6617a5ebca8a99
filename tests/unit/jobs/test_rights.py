"""Who may do what, and in which words a page and a service refuse it."""

from __future__ import annotations

import pytest

from jobs.models import Membership
from jobs.shop.rights import NotAllowed, require, why_not

# The five parts a person can have in a shop, as the owner reads them on the page of people.
OWNER, ESTIMATOR, LEAD, TECHNICIAN, BOOKKEEPER = (
    "owner",
    "estimator",
    "lead_technician",
    "technician",
    "bookkeeper",
)
HOLDERS = {
    "is_member": {OWNER, ESTIMATOR, LEAD, TECHNICIAN, BOOKKEEPER},
    "is_owner": {OWNER},
    "may_design": {OWNER, ESTIMATOR},
    "may_survey": {OWNER, ESTIMATOR},
    "may_install": {OWNER, ESTIMATOR, LEAD, TECHNICIAN},
    "sees_prices": {OWNER, ESTIMATOR, BOOKKEEPER},
    "takes_money": {OWNER, BOOKKEEPER},
}


@pytest.mark.parametrize(("right", "holders"), HOLDERS.items())
def test_a_right_is_held_by_these_parts_only(right, holders):
    held = {role for role in Membership.Role.values if not why_not(Membership(role=role), right)}
    assert held == holders


def test_nobody_without_a_place_in_the_shop_holds_anything():
    assert all(why_not(None, right) for right in HOLDERS)


def test_a_page_and_a_service_say_who_may_install_in_their_own_words():
    books = Membership(role=BOOKKEEPER)
    page = "Only the owner, an estimator or a technician may do this."
    assert why_not(books, "may_install", for_page=True) == page
    assert why_not(books, "may_install") == "Only people who survey or install may do this."


def test_a_person_who_left_or_belongs_elsewhere_may_do_nothing(shop, alice, charlie):
    assert require(alice, shop, "is_owner") == alice.membership
    with pytest.raises(NotAllowed, match="Only the owner may do this"):
        require(charlie, shop, "is_owner")
    alice.membership.is_active = False
    with pytest.raises(NotAllowed, match="Only people of the shop"):
        require(alice, shop, "is_member")
