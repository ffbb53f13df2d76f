"""What a notebook shows: a short table whose words are the user's and nothing more."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

from barwright.analysis.run import analyse


class Table(HTMLParser):
    """Rows of cells and names of tags of a table."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.tags: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        if tag in ("caption", "tr"):
            self.rows.append([])
        if tag in ("caption", "td", "th"):
            self.rows[-1].append("")

    def handle_data(self, data: str) -> None:
        self.rows[-1][-1] += data


def test_case_says_what_is_set_up_and_keeps_the_users_words_words(make_case: Any) -> None:
    shown = Table(make_case(title="<script>x</script> & co")._repr_html_())
    assert shown.tags == {"table", "caption", "tr", "th", "td"}
    assert shown.rows[0] == ["<script>x</script> & co"]
    assert [row[0] for row in shown.rows[1:]] == ["bar", "held by", "bit", "bore", "cut"]
    assert all(cell for row in shown.rows for cell in row)


def test_outcome_says_of_each_limit_whether_it_is_met(make_case: Any) -> None:
    outcome = analyse(make_case(limits__sag="0.001 um"))
    shown = Table(outcome._repr_html_())
    assert shown.rows[0][0].startswith("OUTSIDE LIMITS: ")
    told = {row[0]: row[1] for row in shown.rows[2:]}
    assert told == {one.what: "ok" if one.ok else "MISS" for one in outcome.findings}
    assert "MISS" in told.values()
