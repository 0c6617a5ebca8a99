"""Views of the texts of the steps: listed by phase, written in the shop's own words, put back to ours."""

from __future__ import annotations

from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from checklists.models import ShopText
from checklists.office.texts import SAFETY, as_stored, groups, own_count, source_of, text_rows
from checklists.texts.edit import LONGEST, shop_text_write
from checklists.texts.says import LANGUAGES, SOURCE
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required


@role_required("is_owner")
@require_GET
def text_list(request: ShopRequest) -> HttpResponse:
    """Show the texts of one phase, or those with some words in them, in one language."""
    language = _language(request.GET.get("language", ""))
    group, words = request.GET.get("group", SAFETY), request.GET.get("words", "")[:80]
    known = groups()
    if group not in dict(known):
        group = SAFETY
    context = {
        "rows": text_rows(request.shop, language, group, words),
        "groups": known,
        "group": group,
        "words": words,
        "language": language,
        "languages": settings.LANGUAGES,
        "is_machine_made": language != SOURCE,
        "own_count": own_count(request.shop, language),
        "longest": LONGEST,
    }
    return render(request, "checklists/text_list.html", context)


@role_required("is_owner")
@require_POST
def text_write(request: ShopRequest) -> HttpResponse:
    """Write one text in the shop's words; empty puts it back to ours."""
    language = _language(request.POST.get("language", ""))
    source = source_of(request.POST.get("key", ""))
    try:
        row = shop_text_write(
            shop=request.shop,
            language=language,
            source=source,
            text=as_stored(request.POST.get("text", ""), source, language, request.shop.units),
            actor=request.user,
            at=timezone.now(),
        )
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "Saved; the tablets are told." if row else "It reads as ours again.")
    return _back(request, language)


@role_required("is_owner")
@require_POST
def text_put_back(request: ShopRequest, pk: int) -> HttpResponse:
    """Put one text back to ours."""
    row = get_object_or_404(ShopText.objects.visible_to(request.user), pk=pk)
    shop_text_write(
        shop=row.shop,
        language=row.language,
        source=row.source,
        text="",
        actor=request.user,
        at=timezone.now(),
    )
    messages.success(request, "It reads as ours again.")
    return _back(request, row.language)


def _language(name: str) -> str:
    return name if name in LANGUAGES else SOURCE


def _back(request: ShopRequest, language: str) -> HttpResponse:
    query = {"language": language, "group": request.POST.get("group", SAFETY)}
    query |= {"words": words} if (words := request.POST.get("words", "")) else {}
    return redirect(f"{reverse('checklists:text_list')}?{urlencode(query)}")
