"""What a template must not hold: code or style that the content security policy refuses, and words of other trades."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("shared", "inventory", "inspections", "readiness", "reports")
TEMPLATES = sorted(path for room in ROOMS for path in (ROOT / room / "templates").rglob("*.html"))
SCRIPTS = sorted(path for room in ROOMS for path in (ROOT / room / "static").rglob("*.js"))
DRAWING = sorted(
    path for room in ROOMS for path in (ROOT / room).rglob("*.py") if "<svg" in path.read_text() and path.is_file()
)

REFUSED_BY_THE_BROWSER = {
    "a style attribute": r"<[^>]*\sstyle\s*=",
    "a style element": r"<style\b",
    "a script without src": r"<script(?![^>]*\ssrc=)(?![^>]*application/json)[^>]*>",
    "an event attribute": r"<[^>]*\son[a-z]+\s*=",
    "code in an htmx attribute": r"\bhx-on|hx-[a-z]+=[\"']js:|hx-[a-z]+=[\"']javascript:",
    "a javascript address": r"javascript:",
    "something from another host": r"<(script|link|img|iframe)\b[^>]*(src|href)=[\"'](https?:)?//",
}
WORDS_OF_OTHER_TRADES = (
    r"\bassets?\b|\bwork orders?\b|\btickets?\b|\bcheck(ed|ing)?[- ](in|out)\b|\bcmms\b|\bhealth scores?\b"
    r"|\bcomplian(ce|t)\b|\bdashboards?\b|\bwidgets?\b|\bkanban\b|\b(green|amber|red)\b"
)


def markup(path: Path) -> str:
    """The template without its own language: a tag's ``with one=x`` is no attribute of an element."""
    return re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", "", path.read_text(), flags=re.DOTALL)


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def test_there_are_templates_to_look_at():
    assert len(TEMPLATES) > 10


@pytest.mark.parametrize("path", TEMPLATES + DRAWING, ids=named)
def test_nothing_that_the_content_security_policy_refuses(path):
    text = markup(path)
    found = {what: re.findall(pattern, text)[:1] for what, pattern in REFUSED_BY_THE_BROWSER.items()}
    assert not [what for what, hits in found.items() if hits]


@pytest.mark.parametrize("path", TEMPLATES + SCRIPTS, ids=named)
def test_no_words_of_other_trades(path):
    found = re.search(WORDS_OF_OTHER_TRADES, markup(path), re.IGNORECASE)
    assert found is None, found and found.group()


@pytest.mark.parametrize(
    "bad",
    [
        '<p style="color: tan">',
        "<style>p {}</style>",
        "<script>go()</script>",
        '<button onclick="go()">',
        '<a href="javascript:go()">',
        '<div hx-on:click="go()">',
        '<img src="//elsewhere.example/x.png">',
    ],
)
def test_the_look_itself_finds_what_it_should(bad):
    assert any(re.search(pattern, bad) for pattern in REFUSED_BY_THE_BROWSER.values())
