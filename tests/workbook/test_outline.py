"""Rows told by their places alone are those that the parser finds."""

from hypothesis import given
from hypothesis import strategies as st

from fleetaudit.workbook.markup import MAIN
from fleetaudit.workbook.outline import Outline, last_written_column
from fleetaudit.workbook.rows import SheetPart

CELLS = st.sampled_from(
    ["", '<c r="B{n}"/>', '<c r="A{n}" s="1"/><c r="AB{n}"><v>4</v></c>', '<c r="C{n}" t="b"><v>1</v></c>']
)
#: number, other attributes, space before the row; a row without a number follows the one before
ROWS = st.lists(
    st.tuples(
        st.booleans(), st.sampled_from(["", ' spans="1:3"', ' hidden="1" ht="15"']), CELLS, st.booleans()
    ),
    max_size=7,
)


def sheet(rows: list[tuple[bool, str, str, bool]], between: str) -> bytes:
    """A sheet part with these rows; one that tells no number follows the row before and holds no cell."""
    markup = []
    for place, (numbered, attributes, cells, closed) in enumerate(rows):
        number = 2 * place + 1 if numbered else None
        told = f' r="{number}"' if number else ""
        body = cells.format(n=number) if number else ""
        markup.append(
            f"<row{told}{attributes}/>" if closed and not body else f"<row{told}{attributes}>{body}</row>"
        )
    return f'<worksheet xmlns="{MAIN}"><sheetData>{between.join(markup)}</sheetData></worksheet>'.encode()


@given(ROWS, st.sampled_from(["", "\n", "  "]))
def test_rows_are_those_that_the_parser_finds(rows: list[tuple[bool, str, str, bool]], between: str) -> None:
    part = SheetPart(sheet(rows, between))
    found, expected = Outline(part), list(part.rows(canonical=False))
    assert len(found) == len(rows)
    assert [(r.number, r.hidden, r.start, r.open_end, r.close, r.end) for r in found] == [
        (r.number, r.hidden, r.start, r.open_end, r.close, r.end) for r in expected
    ]
    assert list(found.written) == [last_written_column(row) for row in expected]
    assert found[1:3] == [found[place] for place in range(len(found))][1:3]
    numbers = [row.number for row in expected]
    assert found.in_order == (numbers == sorted(set(numbers)))
