"""Tables are found wherever they stand in a sheet, and no row of theirs is lost."""

from hypothesis import given
from hypothesis import strategies as st

from fleetbench.calc.import_export.columns import is_name
from fleetbench.calc.import_export.tables import Grid, decoded, divided, find_tables, spread

HEAD = ["Unit", "Serial no", "Bought", "Shelf"]


def body(count: int) -> Grid:
    """Rows of a plain table."""
    return [[f"R{n}", f"10{n:02}", f"{n % 28 + 1:02}.03.2024", "A"] for n in range(1, count + 1)]


@given(st.integers(0, 4), st.integers(0, 3), st.integers(1, 40), st.integers(0, 3))
def test_a_table_is_found_under_titles_and_beside_a_margin(titles: int, blank: int, rows: int, left: int) -> None:
    margin = [""] * left
    grid: Grid = [[*margin, f"Title {n}", "", "", ""] for n in range(titles)]
    grid += [[] for _ in range(blank)]
    grid += [[*margin, *line] for line in (HEAD, *body(rows))]
    (found,) = find_tables(grid, is_name)
    assert (found.names, len(found.rows), found.columns[0]) == (tuple(HEAD), rows, left)


@given(st.integers(1, 20), st.integers(1, 20))
def test_two_tables_under_and_beside_each_other_are_kept_apart(first: int, second: int) -> None:
    cells = [["Name", "Phone"], *([f"Person {n}", f"+30 {n}"] for n in range(1, second + 1))]
    under = find_tables([HEAD, *body(first), [], *cells], is_name)
    assert [(each.names[0], len(each.rows)) for each in under] == [("Unit", first), ("Name", second)]
    high = max(first, second) + 1
    left, right = [HEAD, *body(first)], cells
    beside = [
        [*(left[n] if n < len(left) else [""] * 4), "", *(right[n] if n < len(right) else ["", ""])]
        for n in range(high)
    ]
    assert sorted((each.names[0], len(each.rows)) for each in find_tables(beside, is_name)) == [
        ("Name", second), ("Unit", first),
    ]  # fmt: skip


def test_rows_after_a_gap_go_on_and_sums_are_no_rows() -> None:
    grid = [HEAD, *body(3), [], *body(5)[3:], ["Total", "5", "", ""]]
    (found,) = find_tables(grid, is_name)
    assert len(found.rows) == 5


def test_two_rows_of_names_are_joined_where_the_first_spans() -> None:
    grid = spread(
        [["Unit", "Cell 1", "", "Cell 2", ""], ["", "S/N", "Made", "S/N", "Made"], ["R1", "c1", "2025", "c2", "2025"]],
        [(0, 1, 0, 2), (0, 3, 0, 4)],
    )
    assert find_tables(grid, is_name)[0].names == ("Unit", "Cell 1 S/N", "Cell 1 Made", "Cell 2 S/N", "Cell 2 Made")
    plain = [["Unit", "Cell 1", "", "Cell 2", ""], *grid[1:]]
    assert find_tables(plain, is_name)[0].names == find_tables(grid, is_name)[0].names


@given(
    st.sampled_from((",", ";", "\t", "|")),
    st.sampled_from(("utf-8", "utf-8-sig", "utf-16", "cp1252")),
    st.integers(2, 30),
)
def test_the_dividing_sign_and_the_coding_are_told(sign: str, coding: str, rows: int) -> None:
    lines = [["Gerät", "Größe", "Dauer"], *([f"Gerät {n}", f"{n},5", "1,0"] for n in range(rows))]
    quoted = [[f'"{cell}"' if sign in cell else cell for cell in line] for line in lines]
    text, told = decoded("\n".join(sign.join(line) for line in quoted).encode(coding))
    assert told.replace("-sig", "") == coding.replace("-sig", "")
    assert divided(text) == (lines, sign)


@given(st.lists(st.lists(st.text(max_size=8), max_size=6), max_size=12))
def test_no_grid_crashes_and_no_cell_is_claimed_twice(grid: Grid) -> None:
    taken = [(row, column) for each in find_tables(grid, is_name) for row in each.rows for column in each.columns]
    assert len(taken) == len(set(taken))
