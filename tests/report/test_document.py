"""The document: valid HTML, self-contained, accessible, and true to the results."""

from __future__ import annotations

import base64
import json
import re
import sys
import zlib
from dataclasses import replace
from html.parser import HTMLParser
from importlib import import_module

import pytest
from bare import bare
from PIL import Image

from simulator.api.prediction import predict
from simulator.errors import FileFormatError, InputError, OutputError
from simulator.messages import Message
from simulator.report.document import (
    check_pdf,
    merged_cautions,
    render,
    section_of,
    write_pdf,
    write_report,
)
from simulator.report.wording import say
from simulator.studies.overrides import load_pair

SHORT = {"remedies": False, "tolerances": False}
"""What these checks do not need and what takes longest."""

SMALL = (
    "sensor.width_px=480", "sensor.height_px=270", "sensor.pixel_pitch_um=11.6",
    "processing.temporal_noise_reduction=0.0",
)  # fmt: skip


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    scene, camera = load_pair(bare("depot-gate-infrared"), "plate-2mp-infrared", SMALL)
    return predict(scene, camera, seed=4, **SHORT).save(tmp_path_factory.mktemp("result") / "gate")


@pytest.fixture(scope="module")
def text(result):
    return render([result], title="Gate <A> & B", client="Depot", author="N. N.", day="2026-01-02")


@pytest.mark.outside
def test_html_parses_without_an_error(text):
    """html5lib, strict: the parsing algorithm of the WHATWG; it raises at the first error."""
    html5lib = pytest.importorskip("html5lib")
    html5lib.HTMLParser(strict=True).parse(text)


class _Walk(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))


@pytest.mark.invariant
def test_it_needs_nothing_from_outside_and_every_picture_has_words(text):
    walk = _Walk()
    walk.feed(text)
    pictures = [a for tag, a in walk.tags if tag == "img"]
    assert len(pictures) == 3  # frame, target, plan
    assert all(a["src"].startswith("data:image/") for a in pictures)
    assert all(len(a["alt"]) > 20 for a in pictures)
    assert not any(tag in {"script", "link", "iframe"} for tag, _ in walk.tags)
    assert "http" not in re.sub(r"data:image/[^\"]*", "", text)
    assert ("html", {"lang": "en"}) in walk.tags
    heads = [a.get("scope") for tag, a in walk.tags if tag == "th"]
    assert heads
    assert set(heads) == {"col", "row"}


@pytest.mark.invariant
def test_it_says_what_the_verdict_says_and_escapes_what_people_type(text, result):
    found = section_of(result)
    assert "Gate &lt;A&gt; &amp; B" in text
    assert "2026-01-02" in text
    assert found.word in {"Yes", "No", "Not reliably"}
    assert f"<strong>{found.word}.</strong>" in text
    for caution in found.cautions:
        assert caution.split("'")[0][:40] in text
    assert text.index("Sign-off") < text.index("For the engineer")


@pytest.mark.invariant
def test_files(text, tmp_path):
    path = write_report(tmp_path / "new" / "report.html", text)
    assert path.read_text(encoding="utf-8") == text


@pytest.mark.by_hand
def test_the_name_of_the_document_is_that_of_what_it_reports():
    from pathlib import Path

    from simulator.report.document_place import default_path

    gate, bay = Path("outputs/gate--a"), Path("outputs/bay--b/")
    assert default_path([gate]) == Path("outputs/report--gate--a.html")
    assert default_path([bay, gate, gate]) == Path("outputs/report--bay--b--and-2-more.html")


@pytest.mark.invariant
def test_only_a_former_document_is_overwritten(result, text, tmp_path, monkeypatch, capsys):
    from simulator.app.cli import main
    from simulator.report.document_place import check_place

    out = tmp_path / "r.html"
    words = ["nightproof", "report", str(result), "--title", "T", "--out", str(out)]
    monkeypatch.setattr(sys, "argv", words)
    out.write_text("<html>my own page</html>")
    with pytest.raises(SystemExit) as caught:
        main()
    assert caught.value.code == 2
    assert "stays untouched" in capsys.readouterr().err
    assert out.read_text() == "<html>my own page</html>"
    write_report(out, text)
    out.with_suffix(".pdf").write_bytes(b"%PDF-1.7")
    assert check_place(out, pdf=True)
    with pytest.raises(SystemExit) as caught:
        main()
    assert caught.value.code in (0, None)
    assert f"report: {out} (replaces a former one)" in capsys.readouterr().out
    # a PDF that stands there alone belongs to someone else
    out.unlink()
    assert not check_place(out)
    with pytest.raises(OutputError):
        check_place(out, pdf=True)


@pytest.mark.by_hand
def test_heights_of_several_cameras_are_told_together(result):
    def at(height_m):
        message = Message("caution.height", {"height_m": height_m})
        return replace(section_of(result), cautions=[say(message), "Glare."], messages=[message])

    both = Message("caution.heights", {"low_m": 2.8, "high_m": 4.0})
    assert merged_cautions([at(h) for h in (3.0, 4.0, 2.8, 4.0)]) == [say(both), "Glare."]
    assert merged_cautions([at(3.0), at(3.0)]) == at(3.0).cautions


@pytest.mark.invariant
def test_a_folder_that_is_no_result_is_refused(tmp_path):
    with pytest.raises(InputError, match="not a result"):
        render([tmp_path], title="x")
    (tmp_path / "verdict.json").write_text("{broken")
    with pytest.raises(InputError, match="not whole"):
        render([tmp_path], title="x")


@pytest.mark.invariant
def test_a_missing_extra_tells_that_the_html_is_there(result, tmp_path, monkeypatch, capsys):
    from simulator.app.cli import main

    monkeypatch.setitem(sys.modules, "weasyprint", None)
    out = tmp_path / "r.html"
    words = ["nightproof", "report", str(result), "--title", "T", "--out", str(out), "--pdf"]
    monkeypatch.setattr(sys, "argv", words)
    with pytest.raises(SystemExit) as caught:
        main()
    assert caught.value.code == 2
    assert f"The HTML file is written all the same: {out}" in capsys.readouterr().err
    assert out.stat().st_size > 1000
    assert not out.with_suffix(".pdf").exists()


@pytest.mark.by_hand
def test_only_changes_that_serve_are_proposed(result, tmp_path):
    told = json.loads((result / "verdict.json").read_text())
    one = {
        "lever": "shutter", "from": 0.04, "to": 0.001, "unit": "s", "reaches": True,
        "probability": 0.97, "sets": [], "camera": None, "side_effects": ["more noise", "darker"],
    }  # fmt: skip
    poor = {**one, "reaches": False, "probability": told["probability"]}

    def changes(rows):
        (tmp_path / "verdict.json").write_text(json.dumps({**told, "remedies": rows}))
        return section_of(tmp_path).changes

    assert changes([]) == []
    served = changes([one, poor, *[one] * 6])
    assert "97 % of pictures" in served[0] and "more noise; darker" in served[0]
    assert len(served) == 6
    assert served[-1].startswith("2 more")
    (only,) = changes([poor, poor])
    assert "None of the 2 changes" in only


@pytest.mark.invariant
def test_listed_pictures_stay_inside_the_folder(tmp_path):
    """A file outside the result folder is not embedded, whatever verdict.json says."""
    inner = tmp_path / "result"
    inner.mkdir()
    for name in (inner / "a.png", tmp_path / "b.png"):
        Image.new("RGB", (8, 8)).save(name)
    rows = [{"file": f, "alt": "x", "caption": "y"} for f in ("a.png", "../b.png")]
    told = {"schema_version": 1, "study": "survey", "verdict": "not legible", "pictures": rows}
    (inner / "verdict.json").write_text(json.dumps(told))
    section = section_of(inner)
    assert len(section.pictures) == 1
    assert section.tone == "poor"


@pytest.fixture
def weasyprint():
    """The library, where it and the libraries of the system that it needs are there."""
    try:
        check_pdf()
    except InputError as error:
        pytest.skip(error.problem)
    return import_module("weasyprint")


@pytest.mark.invariant
def test_pdf_has_pages(text, tmp_path, weasyprint):
    whole = write_pdf(tmp_path / "report.pdf", text).read_bytes()
    assert whole.startswith(b"%PDF")
    streams = re.findall(rb"/Type /ObjStm.*?>>\s*stream\r?\n(.*?)\r?\nendstream", whole, re.S)
    objects = whole + b"".join(zlib.decompress(stream) for stream in streams)
    assert len(re.findall(rb"/Type ?/Page\b", objects)) >= 3


@pytest.mark.invariant
def test_pdf_fetches_nothing_from_a_disk_or_a_network(tmp_path, monkeypatch, weasyprint):
    """A picture of its own is shown; none from elsewhere, and nobody is connected to."""
    secret = tmp_path / "secret.png"
    Image.effect_noise((300, 300), 99.0).save(secret)
    connected = []
    monkeypatch.setattr("socket.socket.connect", lambda *where: connected.append(where))

    def made(*urls):
        shown = "".join(f'<img alt="x" src="{url}">' for url in urls)
        styles = "".join(f'<link rel="stylesheet" href="{url}">' for url in urls)
        return write_pdf(
            tmp_path / "report.pdf", f"<html><head>{styles}</head><body>x{shown}</body></html>"
        ).read_bytes()

    size = secret.stat().st_size
    own = "data:image/png;base64," + base64.b64encode(secret.read_bytes()).decode()
    away = (secret.as_uri(), "http://127.0.0.1:9/a.png", "https://127.0.0.1:9/a.png",
            "ftp://127.0.0.1/a.png", "secret.png")  # fmt: skip
    assert len(made(own)) > size / 2
    assert len(made(*away)) < size / 4
    assert connected == []


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("told", "key"),
    [
        ({"scenes": [{"title": "x", "wanted_probability": 0.9, "standings": [{"camera": "a"}]}]},
         "rank"),
        ({"pictures": [{"alt": "x"}]}, "file"),
        ({"tables": [3]}, None),
    ],
)  # fmt: skip
def test_a_study_of_another_layout_is_refused(tmp_path, told, key):
    (tmp_path / "verdict.json").write_text(json.dumps({"schema_version": 1, **told}))
    with pytest.raises(FileFormatError, match="another layout") as refused:
        section_of(tmp_path)
    assert (refused.value.key, refused.value.fix) == (key, "run the study again")


@pytest.mark.invariant
def test_the_customer_gets_parts_settings_and_plan_and_no_command(result, tmp_path):
    from simulator import document

    logo = tmp_path / "logo.png"
    Image.new("RGB", (80, 40), "teal").save(logo)
    path = document(result, tmp_path / "r.html", title="A gate", logo=logo, appendix=True)
    customer = path.read_text(encoding="utf-8")
    engineer = (tmp_path / "r--engineer.html").read_text(encoding="utf-8")
    assert "What is needed" in customer and "Settings and mounting" in customer
    assert 'class="logo"' in customer and "Sign-off" in customer
    assert "For the engineer" not in customer and "Sign-off" not in engineer
    assert "The target in figures" in engineer and "The target in figures" not in customer
    for text in (customer, engineer):
        assert "--set" not in text and "nightproof predict" not in text
    with pytest.raises(InputError, match="logo"):
        document(result, tmp_path / "s.html", title="A gate", logo=path)


@pytest.mark.invariant
def test_a_specification_is_told_in_text_the_first_way_for_the_customer(tmp_path):
    own = tmp_path / "ways" / "1"
    own.mkdir(parents=True)
    for name in ("frame", "plan"):
        Image.new("RGB", (32, 18)).save(own / f"{name}.png")
    head = ["setting", "value"]
    table = {
        "schema_version": 1, "study": "specify", "title": "Specification: gate",
        "answer": "20 mm lens, 1/500 s.", "verdict": "legible",
        "changes": ["Cheapest: lamp: 20 mm.", "Least visible: other: 25 mm."],
        "ways": [{"title": "Cheapest: lamp"}, {"title": "Least visible: other"}],
        "pictures": [{"file": "ways/1/frame.png", "alt": "Picture", "caption": "As specified."}],
        "plan": "ways/1/plan.png",
        "tables": [
            {"caption": "Cheapest: lamp: settings", "head": head, "rows": [["Lens", "20 mm"]]},
            {"caption": "Least visible: other: settings", "head": head,
             "rows": [["Lens", "25 mm"]]},
        ],
    }  # fmt: skip
    (tmp_path / "verdict.json").write_text(json.dumps(table))
    found = section_of(tmp_path)
    assert [one.caption for one in found.orders] == ["Cheapest: lamp: settings"]
    assert [one.caption for one in found.tables] == ["Least visible: other: settings"]
    assert found.plan is not None and len(found.pictures) == 1
    assert found.changes == ["Least visible: other: 25 mm."]
    customer = render([tmp_path], title="Gate", part="customer")
    assert "Other ways" in customer and "<td>20 mm</td>" in customer
    assert "<td>25 mm</td>" not in customer
    (tmp_path / "verdict.json").write_text(json.dumps({**table, "plan": "../elsewhere.png"}))
    assert section_of(tmp_path).plan is None
