"""A table put back into its file: what changed is changed, and everything else stays, to the letter."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.schedule.index import names, profile
from controller.schedule.located import load_toml, read_toml
from web.schedules.edit import EditError, Row, Sheet, edited, sheet_of
from web.schedules.pieces import cut

TEXT = """\
# A head.
title = "Two"   # its title

# Up gently.
[[stage]]
kind = "ramp"
name = "up"
to = "90 C"     # short of boiling
rate = "60 C/h"

# A loose word between.

# Stay: it dries.
[[stage]]
kind = "hold"
name = "stay"
for = "1 h"
"""


def put(text: str, change: object) -> str:
    """The text after `change` was made to its table."""
    located = read_toml(text, "t.toml")
    assert callable(change)
    return edited(located, change(sheet_of(located)))


def with_stages(sheet: Sheet, *rows: Row) -> Sheet:
    return sheet._replace(stages=rows)


def with_key(sheet: Sheet, place: int, **keys: str | bool) -> Sheet:
    rows = list(sheet.stages)
    rows[place] = Row({**rows[place].fields, **keys}, place)
    return with_stages(sheet, *rows)


@pytest.mark.parametrize("name", names())
def test_a_built_in_schedule_is_the_same_to_the_letter_when_nothing_changed(name: str) -> None:
    located = load_toml(profile(name))
    top, pieces = cut(located)
    assert top + "".join(piece.text for piece in pieces) == located.text
    assert edited(located, sheet_of(located)) == located.text


def test_a_changed_value_keeps_its_comment_and_its_place() -> None:
    text = put(TEXT, lambda sheet: with_key(sheet, 0, to="95 C"))
    assert text == TEXT.replace('to = "90 C"     # short', 'to = "95 C"     # short')


def test_a_new_key_comes_last_in_its_own_stage_and_an_emptied_one_goes() -> None:
    text = put(TEXT, lambda sheet: with_key(sheet, 0, extraction=True))
    assert 'rate = "60 C/h"\nextraction = true\n\n# A loose word between.\n' in text

    def without_rate(sheet: Sheet) -> Sheet:
        fields = {name: value for name, value in sheet.stages[0].fields.items() if name != "rate"}
        return with_stages(sheet, Row(fields, 0), sheet.stages[1])

    assert put(TEXT, without_rate) == TEXT.replace('rate = "60 C/h"\n', "")


def test_a_stage_moves_with_the_comment_right_above_it() -> None:
    text = put(TEXT, lambda sheet: with_stages(sheet, sheet.stages[1], sheet.stages[0]))
    stay, up = text.index("# Stay: it dries."), text.index("# Up gently.")
    assert stay < text.index('"stay"') < up < text.index('"up"')
    assert text.startswith('# A head.\ntitle = "Two"   # its title\n\n# Stay: it dries.\n[[stage]]\n')
    assert text.count("# A loose word between.") == 1


def test_a_stage_taken_out_takes_its_comment_along_and_a_new_one_stands_alone() -> None:
    new = Row({"kind": "cool", "name": "down", "to": "60 C"}, None)
    text = put(TEXT, lambda sheet: with_stages(sheet, sheet.stages[0], new))
    assert "Stay" not in text
    assert "# Up gently." in text
    assert text.endswith('\n\n[[stage]]\nkind = "cool"\nname = "down"\nto = "60 C"\n')


def test_the_top_and_the_recovery_are_changed_in_their_own_places() -> None:
    def change(sheet: Sheet) -> Sheet:
        return sheet._replace(top={**sheet.top, "pour_at": "90 C"}, recovery={"otherwise": "stop"})

    text = put(TEXT, change)
    assert 'its title\npour_at = "90 C"\n\n[recovery]\notherwise = "stop"\n\n# Up gently.\n' in text
    again = put(text, lambda sheet: sheet._replace(recovery={"otherwise": "wait"}))
    assert again == text.replace('"stop"', '"wait"')
    dotted = 'title = "x"\nrecovery.otherwise = "stop" # so\n[[stage]]\nkind = "ramp"\n'
    changed = put(dotted, lambda sheet: sheet._replace(recovery={"otherwise": "wait"}))
    assert changed == dotted.replace('"stop"', '"wait"')


def test_what_is_no_text_is_kept_as_it_is_until_somebody_changes_it() -> None:
    text = TEXT.replace('to = "90 C"', "to = 90.0")
    assert sheet_of(read_toml(text, "t")).stages[0].fields["to"] == "90.0"
    assert put(text, lambda sheet: with_key(sheet, 0, rate="50 C/h")) == text.replace("60 C/h", "50 C/h")
    assert 'to = "90.5"' in put(text, lambda sheet: with_key(sheet, 0, to="90.5"))


@pytest.mark.parametrize(
    "text",
    [
        'stage = [{kind = "ramp"}]',
        'recovery = 1\n[[stage]]\nkind = "ramp"',
        'stage = [\n  {kind = "ramp"}, # "[[stage]]"\n]',
    ],
)
def test_a_file_that_is_written_otherwise_is_left_to_the_text(text: str) -> None:
    with pytest.raises(EditError, match="edit it as text"):
        sheet_of(read_toml(text, "t"))


@pytest.mark.parametrize("was", [2, 99])
def test_a_row_from_nowhere_is_refused(was: int) -> None:
    with pytest.raises(EditError, match="does not fit"):
        put(TEXT, lambda sheet: with_stages(sheet, Row({"kind": "ramp"}, was)))


def test_brackets_and_hashes_inside_texts_are_no_headers_and_no_comments() -> None:
    text = TEXT.replace('"up"', '"""up\n# not a comment\n[[stage]]\n"""').replace("\n", "\r\n")
    text = "# a strange\u2028line\x85end\n" + text
    changed = put(text, lambda sheet: with_key(sheet, 1, name="x"))
    assert changed == text.replace('"stay"', '"x"')
    swapped = put(text, lambda sheet: with_stages(sheet, sheet.stages[1], sheet.stages[0]))
    assert swapped.index("# Stay: it dries.\r\n[[stage]]") < swapped.index("# Up gently.\r\n[[stage]]")


def test_a_file_that_would_not_say_what_the_table_says_is_not_made() -> None:
    """Here what looks like a comment above a stage is the end of a text."""
    text = TEXT.replace('"Two"   # its title\n\n# Up gently.', '"""Two\n# Up gently."""')
    with pytest.raises(EditError, match="does not fit into this file: edit it as text"):
        put(text, lambda sheet: with_stages(sheet, sheet.stages[1], sheet.stages[0]))


VALUES = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=12) | st.booleans()
KEYS = st.text("abcdefgh_-", min_size=1, max_size=6)
FIELDS = st.dictionaries(KEYS, VALUES, min_size=1, max_size=4)
ROWS = st.lists(st.builds(Row, FIELDS, st.sampled_from([None, 0, 1])), min_size=1, max_size=5)


@settings(max_examples=60, deadline=None)
@given(st.builds(Sheet, FIELDS, FIELDS, ROWS.map(tuple)))
def test_whatever_the_table_says_the_file_says(sheet: Sheet) -> None:
    text = edited(read_toml(TEXT, "t.toml"), sheet)
    said = sheet_of(read_toml(text, "t.toml"))
    assert (said.top, said.recovery) == (sheet.top, sheet.recovery)
    assert [row.fields for row in said.stages] == [row.fields for row in sheet.stages]
    for was, comment in ((0, "# Up gently."), (1, "# Stay: it dries.")):
        assert text.count(comment) == sum(row.was == was for row in sheet.stages)
    assert text.startswith("# A head.\n")
