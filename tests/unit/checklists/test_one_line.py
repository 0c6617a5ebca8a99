"""The one-line diagram: every feed and load of the golden job, drawn without style attributes."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from checklists.record.read import work_of
from checklists.sheet.one_line import one_line_svg


@pytest.fixture
def work(checklist):
    return work_of(checklist)


def words(svg: str) -> list[str]:
    return [each.text for each in ET.fromstring(svg).iter() if each.tag.endswith("text")]


def test_it_names_every_wire_with_its_fuse(work):
    found = words(one_line_svg(work.system, work.result))
    for text in ("2S2P 800 W", "Controller A", "C2 10", "35 A", "C6 2/0", "250 A", "3 × 100 Ah", "DC panel"):
        assert text in found, text


def test_it_follows_the_security_policy_of_the_pages(work):
    svg = one_line_svg(work.system, work.result)
    assert "style=" not in svg
    assert "<title>" in svg


def test_text_from_records_cannot_break_out_of_the_drawing(work):
    rows = tuple(
        replace(row, size="<script>", size_words="<script>") if row.id == "C2" else row
        for row in work.result.circuits
    )
    svg = one_line_svg(work.system, replace(work.result, circuits=rows))
    assert "<script>" not in svg
    assert "C2 <script>" in words(svg)


def test_a_system_with_nothing_on_it_still_draws(work):
    bare = replace(work.system, bank=None, inverter=None, circuits=(), controllers=())
    svg = one_line_svg(bare, replace(work.result, controllers=(), circuits=()))
    assert words(svg)[-1] == "bus"
