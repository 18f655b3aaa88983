"""Which questions are asked: few, and none that an instrument could not answer."""

from hypothesis import given
from hypothesis import strategies as st

from controller.wire.points import GAP, LIMITS, Block, Point, plan, split

FUNCTIONS = st.sampled_from(["coil", "discrete", "input", "holding"])
POINTS = st.lists(
    st.builds(Point, st.integers(1, 2), FUNCTIONS, st.integers(0, 3000), st.integers(1, 2)), max_size=40
).map(lambda points: dict(enumerate(points)))


def holds(block: Block, points: dict[int, Point]) -> None:
    """Assert that a block's parts are its points, each whole and inside."""
    for part in block.parts:
        point = points[part.index]
        assert (block.unit, block.function) == (point.unit, point.function)
        assert block.address + part.start == point.address
        assert part.end - part.start == point.count
        assert 0 <= part.start < part.end <= block.count


@given(POINTS)
def test_every_point_is_in_exactly_one_block_that_holds_all_of_it(points: dict[int, Point]) -> None:
    blocks = plan(points)
    for block in blocks:
        holds(block, points)
    assert sorted(part.index for block in blocks for part in block.parts) == sorted(points)


@given(POINTS)
def test_no_block_is_longer_than_an_answer_can_be(points: dict[int, Point]) -> None:
    assert all(1 <= block.count <= LIMITS[block.function] for block in plan(points))


@given(POINTS)
def test_nothing_but_small_gaps_is_read_for_nothing(points: dict[int, Point]) -> None:
    for block in plan(points):
        wanted = {a for part in block.parts for a in range(part.start, part.end)}
        unwanted = [a for a in range(block.count) if a not in wanted]
        runs = "".join("x" if a in unwanted else " " for a in range(block.count)).split()
        assert all(len(run) <= GAP for run in runs)


@given(POINTS)
def test_splitting_a_block_loses_no_point_and_makes_it_smaller(points: dict[int, Point]) -> None:
    for block in plan(points):
        parts = split(block)
        if len(block.parts) == 1:
            assert parts == []
            continue
        assert len(parts) > 1
        assert sorted(p.index for part in parts for p in part.parts) == sorted(p.index for p in block.parts)
        for part in parts:
            holds(part, points)


def test_near_points_of_one_unit_and_function_are_one_question() -> None:
    points = [Point(1, "input", 0), Point(1, "input", 1), Point(1, "input", 4, 2)]
    assert [(b.address, b.count) for b in plan(dict(enumerate(points)))] == [(0, 6)]


def test_far_points_other_units_and_other_functions_are_questions_of_their_own() -> None:
    points = [
        Point(1, "input", 0),
        Point(1, "input", 1 + GAP),
        Point(1, "input", 3 + 2 * GAP),
        Point(2, "input", 1),
        Point(1, "holding", 1),
    ]
    blocks = plan(dict(enumerate(points)))
    assert [(b.unit, b.function, b.address, b.count) for b in blocks] == [
        (1, "holding", 1, 1),
        (1, "input", 0, 2 + GAP),
        (1, "input", 3 + 2 * GAP, 1),
        (2, "input", 1, 1),
    ]


def test_a_run_of_registers_is_cut_at_the_limit() -> None:
    blocks = plan({i: Point(1, "holding", i) for i in range(130)})
    assert [(b.address, b.count) for b in blocks] == [(0, 125), (125, 5)]


def test_a_refused_block_first_loses_its_gaps_then_asks_for_every_point() -> None:
    block = plan({0: Point(1, "input", 0), 1: Point(1, "input", 1), 2: Point(1, "input", 3)})[0]
    first = split(block)
    assert [(b.address, b.count) for b in first] == [(0, 2), (3, 1)]
    assert [(b.address, b.count) for b in split(first[0])] == [(0, 1), (1, 1)]
