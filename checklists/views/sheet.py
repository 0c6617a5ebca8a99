"""Answers for job sheets: issued once, sent as stored."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from checklists.forms.sign_off import IssueForm
from checklists.models import JobSheet
from checklists.selectors.pages import checklist_or_404
from checklists.services.sheets import sheet_issue as issue
from checklists.views.sign_off import shown
from common.pdf import PdfLibraryMissing
from jobs.services.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required


@role_required("may_install")
@require_POST
def sheet_issue(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Print and store the sheet as it stands; the same content is not printed twice."""
    checklist = checklist_or_404(request.user, job_pk)
    form = IssueForm(request.POST)
    if form.is_valid():
        try:
            sheet = issue(
                checklist=checklist,
                actor=request.user,
                at=timezone.now(),
                reason=form.cleaned_data["reason"],
            )
        except (Refusal, PdfLibraryMissing) as refusal:
            form.add_error(None, str(refusal))
        else:
            words = "released" if sheet.is_released else "not released: what is missing is listed on it"
            messages.success(request, f"Job sheet {sheet.number} is stored, {words}.")
            return redirect("checklists:sign_off", job_pk)
    return shown(request, checklist, None, form)


@member_required
@require_GET
def sheet_pdf(request: ShopRequest, pk: int) -> FileResponse:
    """Send the stored file; a re-print is the same file."""
    sheet = get_object_or_404(
        JobSheet.objects.visible_to(request.user).select_related("checklist__job"), pk=pk
    )
    name = f"job-sheet-{sheet.checklist.job.number}-{sheet.number}.pdf"
    answer = FileResponse(sheet.file.open("rb"), content_type="application/pdf", filename=name)
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
