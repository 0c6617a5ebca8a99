"""Turns a snapshot into the PDF: the same pieces as on the sign-off page, the data travels inside."""

from __future__ import annotations

import base64
import copy
import json
from collections.abc import Callable, Mapping
from typing import Any

from checklists.models import Checklist, Photo
from checklists.photos.files import file_uri
from common.pdf import PdfAttachment, pdf_bytes

Source = Callable[[str], str]


def print_sheet(checklist: Checklist, snapshot: Mapping[str, Any]) -> bytes:
    """Return the sheet as PDF/A-3a with its own data attached as JSON."""
    content, sheet = snapshot["content"], snapshot["sheet"]
    head = content["head"]
    context = {
        "shop": checklist.job.shop,
        "content": photo_sources(checklist, content),
        "sheet": sheet,
        "signatures": with_drawings(snapshot["signatures"]),
        "watermark": "" if sheet["is_released"] else "not released",
        "head": {
            "vehicle": head["vehicle"]["text"],
            "vin_tail": head["vehicle"]["vin_tail"],
            "job_number": head["job"]["number"],
            "revision": f"{head['design']['number']}-{sheet['number']}",
            "code": sheet["content_sha256"][:12],
        },
    }
    attachment = PdfAttachment(
        name="job-sheet.json",
        content=json.dumps(snapshot, ensure_ascii=False, indent=1, sort_keys=True).encode(),
        description="Everything this job sheet says, as data",
    )
    is_as_built = "as built" if sheet["is_released"] else "draft"
    title = f"Job sheet {sheet['number']}, job {head['job']['number']}, {is_as_built}"
    return pdf_bytes("pdf/job_sheet.html", context, title=title, attachments=[attachment])


def photo_sources(checklist: Checklist, content: Mapping[str, Any]) -> dict[str, Any]:
    """Return the content with each picture's file: the small one is as fine as paper shows it."""
    files = {str(row.pk): str(row.small.name) for row in Photo.objects.filter(checklist=checklist)}
    return with_sources(content, lambda name: file_uri(files[name]) if name in files else "")


def with_sources(content: Mapping[str, Any], source: Source) -> dict[str, Any]:
    """Return the content with each picture's address beside its id, and the plan as a picture."""
    shown = copy.deepcopy(dict(content))
    for photo in shown["photos"]:
        photo["src"] = source(photo["id"])
    for row in (shown["seals"] or {}).get("rows", []):
        row["photos"] = [{"id": name, "src": source(name)} for name in row["photos"]]
    for row in shown["settings"]:
        row["photos"] = [{"id": name, "src": source(name)} for name in row["photos"]]
    for row in (*shown["arrival"], *shown["built"]):
        if row.get("svg"):
            row["src"] = svg_uri(row["svg"])
    shown["one_line_src"] = svg_uri(shown["one_line_svg"])
    if shown["roof_plan_svg"]:
        shown["roof_plan_src"] = svg_uri(shown["roof_plan_svg"])
    return shown


def with_drawings(signatures: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the signatures with each drawing as a picture."""
    return [row | {"src": svg_uri(row["svg"]) if row["svg"] else ""} for row in signatures]


def svg_uri(svg: str) -> str:
    """Return a drawing as an address of its own, so that its insides cannot touch the page."""
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"
