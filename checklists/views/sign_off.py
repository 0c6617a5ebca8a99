"""Views of sign-off: the sheet as it stands, what is still open, and the places to sign."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from checklists.forms.sign_off import IssueForm, SignForm
from checklists.models import Checklist, SignOff
from checklists.plan.roles import Role
from checklists.record.pages import checklist_or_404
from checklists.sheet.draft import Draft, sheet_draft
from checklists.sheet.printing import with_sources
from checklists.sheet.sign import RIGHT_TO_SIGN, sheet_sign
from jobs.shop.refusals import Refusal
from jobs.shop.rights import why_not
from jobs.views.access import ShopRequest, role_required


@role_required("may_install")
@require_http_methods(["GET", "POST"])
def sign_off(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Show the sheet that is signed; take one signature under it."""
    checklist = checklist_or_404(request.user, job_pk)
    form = SignForm(request.POST) if request.method == "POST" else None
    if form is not None and form.is_valid():
        data = form.cleaned_data
        try:
            sheet_sign(
                checklist=checklist,
                part=data["part"],
                printed_name=data["printed_name"],
                signature_svg=data["signature_svg"],
                content_sha256=data["content_sha256"],
                actor=request.user,
                at=timezone.now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("checklists:sign_off", job_pk)
    return shown(request, checklist, form)


def shown(
    request: ShopRequest, checklist: Checklist, form: SignForm | None, issue: IssueForm | None = None
) -> HttpResponse:
    """Return the sign-off page."""
    draft = sheet_draft(checklist)
    sheets = list(checklist.sheets.defer("snapshot"))
    context = {
        "job": checklist.job,
        "tab": "install",
        "draft": draft,
        "content": with_sources(draft.content, lambda name: reverse("checklists:photo_small", args=[name])),
        "places": _places(request, draft, form),
        "sheets": sheets,
        "issue_form": issue or IssueForm(),
        "is_correction": any(sheet.is_released for sheet in sheets),
        "is_printed": bool(sheets) and sheets[0].content_sha256 == draft.content_sha256,
        "form": form or issue,
    }
    has_errors = bool((form and form.errors) or (issue and issue.errors))
    return render(request, "checklists/sign_off.html", context, status=422 if has_errors else 200)


def _places(request: ShopRequest, draft: Draft, form: SignForm | None) -> list[dict[str, Any]]:
    """Return each place to sign: signed, or with a form of its own."""
    signed = {row.part: row for row in draft.signatures}
    sent = form.data.get("part") if form is not None else None
    places = []
    for part in draft.required:
        own = form if form is not None and sent == part else None
        if own is None:
            own = SignForm(
                initial={
                    "part": part,
                    "content_sha256": draft.content_sha256,
                    "printed_name": _likely_name(request, draft, part),
                },
                auto_id=f"id_{part}_%s",
            )
        else:
            own.auto_id = f"id_{part}_%s"
        is_theirs = not why_not(request.membership, RIGHT_TO_SIGN[SignOff.Part(part)])
        places.append(
            {
                "part": part,
                "words": SignOff.Part(part).label,
                "signed": signed.get(part),
                "form": own,
                "may_sign": is_theirs and not draft.content["open"],
            }
        )
    return places


def _likely_name(request: ShopRequest, draft: Draft, part: str) -> str:
    """Return the name that most likely signs here; it may be typed over."""
    if part == SignOff.Part.CUSTOMER:
        return str(draft.content["head"]["customer"]["name"])
    if part == SignOff.Part.LICENSED:
        return str(draft.work.install.value(Role.LICENSED_PERSON, "licensed_name") or "")
    return request.user.get_full_name()
