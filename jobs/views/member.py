"""The pages of the shop's people."""

from __future__ import annotations

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from allauth.mfa.utils import is_mfa_enabled
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from jobs.forms.member import MemberEditForm, MemberForm
from jobs.models import Membership
from jobs.shop import members
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required


@role_required("is_owner")
def member_list(request: ShopRequest) -> HttpResponse:
    """Show the people of the shop and their parts."""
    found = Membership.objects.visible_to(request.user).select_related("user")
    people = found.order_by("-is_active", "user__first_name", "pk")
    return render(request, "jobs/member_list.html", {"people": people})


@never_cache
@role_required("is_owner")
def member_create(request: ShopRequest) -> HttpResponse:
    """Add a person and show, once, the link by which they choose a password."""
    form = MemberForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            member = members.member_add(
                shop=request.shop, **form.cleaned_data, actor=request.user, at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error("email", str(refusal))
        else:
            return _link_page(request, member)
    return render(request, "jobs/member_create.html", {"form": form}, status=422 if form.errors else 200)


@role_required("is_owner")
def member_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Change a person's part in the shop, or end it."""
    member = _member(request, pk)
    start = {name: getattr(member, name) for name in ("role", "licence_no", "phone", "language", "is_active")}
    form = MemberEditForm(request.POST or None, initial=start)
    if request.method == "POST" and form.is_valid():
        try:
            members.member_change(member=member, **form.cleaned_data, actor=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, "Saved.")
            return redirect("jobs:member_list")
    has_factor = member.user_id != request.user.pk and is_mfa_enabled(member.user)
    context = {"form": form, "member": member, "has_factor": has_factor}
    return render(request, "jobs/member_edit.html", context, status=422 if form.errors else 200)


@never_cache
@role_required("is_owner")
@require_POST
def member_link(request: ShopRequest, pk: int) -> HttpResponse:
    """Make a new link by which a person chooses a password."""
    member = _member(request, pk)
    try:
        members.member_link_logged(member=member, actor=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("jobs:member_list")
    return _link_page(request, member)


@role_required("is_owner")
@require_POST
def member_factors(request: ShopRequest, pk: int) -> HttpResponse:
    """Take away a person's second factor."""
    member = _member(request, pk)
    try:
        members.member_factors_remove(member=member, actor=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The second factor is removed.")
    return redirect("jobs:member_edit", pk)


@member_required
@require_POST
def language_set(request: ShopRequest) -> HttpResponse:
    """Turn the pages to another language, for this person."""
    try:
        members.language_choose(
            shop=request.shop,
            language=request.POST.get("language", ""),
            actor=request.user,
            at=timezone.now(),
        )
    except Refusal as refusal:
        messages.error(request, str(refusal))
    back = request.POST.get("next", "")
    is_here = url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()})
    return redirect(back if is_here else "jobs:job_board")


def _member(request: ShopRequest, pk: int) -> Membership:
    return get_object_or_404(
        Membership.objects.visible_to(request.user).select_related("user", "shop"), pk=pk
    )


def _link_page(request: ShopRequest, member: Membership) -> HttpResponse:
    """Show the link; it is nowhere stored, works once and stops working when a password is set."""
    user = member.user
    path = reverse(
        "account_reset_password_from_key",
        kwargs={"uidb36": user_pk_to_url_str(user), "key": default_token_generator.make_token(user)},
    )
    context = {"member": member, "link": request.build_absolute_uri(path)}
    return render(request, "jobs/member_link.html", context)
