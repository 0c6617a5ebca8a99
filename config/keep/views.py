"""The owner's page of the shop's archives."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from config.keep.shop_archive import KEPT, archive_ask, archive_fetch, archives_of
from config.models import ShopArchive
from jobs.views.access import ShopRequest, role_required


@role_required("is_owner")
@require_http_methods(["GET", "POST"])
def archive_list(request: ShopRequest) -> HttpResponse:
    """Show the shop's archives; POST asks for a new one."""
    if request.method == "POST":
        archive_ask(shop=request.shop, actor=request.user, at=timezone.now())
        messages.success(request, _("The archive is being written. This page says when it is ready."))
        return redirect("shop_archives")
    return render(request, "shop_archives.html", {"archives": archives_of(request.shop), "days": KEPT.days})


@role_required("is_owner")
@require_GET
def archive_file(request: ShopRequest, pk: int) -> FileResponse:
    """Send one archive to the owner."""
    archives = ShopArchive.objects.filter(shop=request.shop, state=ShopArchive.State.READY)
    archive = get_object_or_404(archives.select_related("shop"), pk=pk)
    source = archive_fetch(archive=archive, actor=request.user, at=timezone.now())
    name = f"shop-{archive.asked_at:%Y-%m-%d}.zip"
    return FileResponse(source, as_attachment=True, filename=name, content_type="application/zip")
