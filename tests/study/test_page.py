from __future__ import annotations

import json
import re
from xml.etree import ElementTree as ET

from station.study.jobs import Job
from station.study.jsonform import study_as_object
from station.study.outcome import End
from station.study.page import study_page
from tests.study.example import FAULTS, HEADER, example_findings, example_plan

PAGE = study_page(HEADER, example_plan(), example_findings())
SVG = "{http://www.w3.org/2000/svg}"


def test_the_page_asks_nobody_for_anything() -> None:
    words = PAGE.replace('xmlns="http://www.w3.org/2000/svg"', "")
    for outside in ("http", "src=", "href=", "url(", "@import", "<script", "<link", "<img"):
        assert outside not in words


def test_the_page_names_every_fault_and_what_nothing_caught() -> None:
    for name in FAULTS:
        assert name in PAGE
    assert "2 of 4" in PAGE  # the capacitor to either side, of four ladders of the unit
    assert "not reached" in PAGE
    assert "rises within one rung" in PAGE


def test_words_from_outside_are_no_markup() -> None:
    assert "Do &lt;this&gt; &amp; that." in PAGE
    assert "<this>" not in PAGE


def test_every_picture_is_well_formed_and_drawn_without_colour() -> None:
    pictures = re.findall(r"<svg.*?</svg>", PAGE, re.DOTALL)
    assert len(pictures) == 4  # two overviews; curves of the rub and of the capacitor
    for text in pictures:
        root = ET.fromstring(text)
        assert root.attrib["aria-label"]
        for element in root.iter():
            for paint in ("fill", "stroke"):
                colour = element.attrib.get(paint, "none").removeprefix("#")
                shades = re.findall("(..)" if len(colour) == 6 else "(.)", colour)
                assert colour == "none" or len(set(shades)) == 1, colour


def test_two_sides_of_a_fault_share_a_picture_in_different_strokes_and_marks() -> None:
    both = next(svg for svg in re.findall(r"<svg.*?</svg>", PAGE, re.DOTALL) if ">less<" in svg)
    curves = list(ET.fromstring(both).iter(f"{SVG}polyline"))
    assert len({line.attrib.get("stroke-dasharray") for line in curves}) == 2
    assert "<circle" in both
    assert "<polygon" in both


def test_points_of_a_picture_stay_inside_it() -> None:
    for text in re.findall(r"<svg.*?</svg>", PAGE, re.DOTALL):
        root = ET.fromstring(text)
        width, height = (float(number) for number in root.attrib["viewBox"].split()[2:])
        for line in root.iter(f"{SVG}line"):
            for name in ("x1", "x2"):
                assert 0.0 <= float(line.attrib[name]) <= width
            for name in ("y1", "y2"):
                assert 0.0 <= float(line.attrib[name]) <= height


def test_a_study_without_faults_has_a_page() -> None:
    plan = example_plan()
    findings = example_findings()
    bare = type(findings)(findings.good, (), (), findings.speed)
    page = study_page(HEADER, plan, bare)
    assert "Good units" in page
    assert "<svg" not in page


def test_the_object_says_on_which_side_a_threshold_lies() -> None:
    found = json.loads(json.dumps(study_as_object(HEADER, example_plan(), example_findings())))
    faults = {fault["name"]: fault for fault in found["faults"]}
    rub = {at["probability"]: at for at in faults["coil_rub"]["thresholds"]}
    assert rub[0.5]["reached"] == "within"
    assert 57.0 < rub[0.5]["severity"] < 60.0
    capacitor = faults["wrong_capacitor less"]["thresholds"][0]
    assert capacitor["reached"] == "beyond"
    assert capacitor["severity"] is None
    assert capacitor["upper"] is None
    assert faults["dead_tweeter"]["thresholds"] == []
    assert found["good"]["every"]["fail"]["hits"] == 0
    assert {row["name"] for row in found["station"]} == {"station_loud_room"}


def test_the_object_holds_only_what_json_knows_even_if_nothing_was_found() -> None:
    def all_pass(_job: Job) -> End:
        return End.PASS

    found = study_as_object(HEADER, example_plan(), example_findings(all_pass))
    json.dumps(found, allow_nan=False)
    assert all(not fault["caught"] for fault in found["faults"])
