"""Words of ``paths``: trees, what no picture shows, and what a higher mast frees."""

from __future__ import annotations

import pytest

SECTOR = {"kind": "equirectangular", "left_deg": -60, "right_deg": 60,
          "top_deg": 45, "bottom_deg": -30}  # fmt: skip


@pytest.fixture
def tree_loss(make_roof, make_wall):
    """Loss and word behind a crown as wide as a house, for a kind, channel, depth and season."""
    count = iter(range(100))

    def loss(kind: str, channel: int, depth_m: float | None, season: str = "in") -> dict:
        roof = make_roof(name=f"tree{next(count)}")
        roof.wall("crown", make_wall(30.0, 25.0, 8.0, 0.0, 20.0), kind, ground=True)
        if depth_m is not None:
            roof.data["obstructions"][0]["depth_m"] = depth_m
        roof.station("QA", 30.0, 0.5, channel=channel)
        return roof.path("--season", season)

    return loss


def test_a_deep_crown_is_gone_through(tree_loss) -> None:
    row = tree_loss("broadleaf", 36, 12.0)
    assert row["path"] == "through_trees"
    assert row["obstruction"] == "crown"
    assert row["obstruction_loss_db"] > 1.0
    assert row["shares_db"]["crown"] == pytest.approx(row["obstruction_loss_db"])


def test_a_crown_costs_less_than_a_wall(tree_loss) -> None:
    tree, wall = tree_loss("broadleaf", 21, 8.0), tree_loss("building", 21, None)
    assert wall["path"] == "blocked"
    assert 0.0 < tree["obstruction_loss_db"] < wall["obstruction_loss_db"]


def test_a_crown_costs_more_at_a_higher_frequency(tree_loss) -> None:
    low, high = (tree_loss("broadleaf", c, 12.0)["obstruction_loss_db"] for c in (4, 36))
    assert low < high


def test_a_deeper_crown_costs_more(tree_loss) -> None:
    losses = [tree_loss("conifer", 21, depth)["obstruction_loss_db"] for depth in (2.0, 5.0, 10.0)]
    assert losses[0] < losses[1] < losses[2]


def test_loss_of_ten_metres_of_leaves_lies_among_the_published_models(tree_loss) -> None:
    """At 500 MHz and 10 m: 1.2 dB (P.833 woodland) to 5.1 dB (early ITU), radio.md section 2."""
    assert 1.0 < tree_loss("broadleaf", 21, 10.0)["obstruction_loss_db"] < 6.0


def test_bare_broadleaf_trees_cost_no_more_than_leafy_ones(tree_loss) -> None:
    leafy, bare = (
        tree_loss("broadleaf", 21, 8.0, season)["obstruction_loss_db"] for season in ("in", "out")
    )
    assert bare < leafy


def test_conifers_keep_their_needles(tree_loss) -> None:
    summer, winter = (
        tree_loss("conifer", 21, 8.0, season)["obstruction_loss_db"] for season in ("in", "out")
    )
    assert winter == pytest.approx(summer)


def test_a_tree_of_unknown_kind_and_depth_still_gets_a_word(tree_loss) -> None:
    row = tree_loss("tree", 21, None)
    assert row["path"] in {"clear", "through_trees"}
    assert row["obstruction_loss_db"] > 0.0


def test_what_no_picture_shows_is_not_seen(make_roof, make_camera) -> None:
    roof = make_roof(make_camera(SECTOR, (960, 600), yaw_deg=30.0))
    roof.station("QIN", 45.0, 1.0)
    roof.station("QOUT", 200.0, 1.0)
    rows = {row["station"]: row for row in roof.paths()}
    assert rows["QIN"]["path"] == "clear"
    assert rows["QOUT"]["path"] == "not_seen"
    assert rows["QOUT"]["obstruction"] is None
    assert rows["QOUT"]["unseen_behind"] is False
    assert rows["QOUT"]["bearing_deg"] == pytest.approx(200.0, abs=1e-6)


def test_above_the_top_of_the_picture_is_not_seen(make_roof, make_camera) -> None:
    low = dict(SECTOR, top_deg=14.0)
    roof = make_roof(make_camera(low, (960, 352), yaw_deg=30.0))
    roof.station("QA", 30.0, 20.0, distance_km=6.0)
    assert roof.path()["path"] == "not_seen"


def test_with_no_view_at_all_nothing_is_clear(roof) -> None:
    roof.data.update(views=[], marks=[])
    roof.station("QA", 30.0, 1.0)
    roof.save()
    (row,) = roof.runner.ok("paths", roof.folder, "--json").rows
    assert row["path"] == "not_seen"


def test_what_a_higher_mast_frees_keeps_its_word(roof, make_wall) -> None:
    """From the camera the wall hid this direction; four metres up the ray passes over it."""
    roof.data["spots"][0]["heights_m"] = [1.5, 5.5]
    roof.wall("block", make_wall(30.0, 22.0, 10.0, 0.0, 9.5), ground=True)
    roof.station("QA", 30.0, 0.5, channel=36)
    roof.solve()
    low, high = roof.runner.ok("paths", roof.folder, "--json").rows
    assert low["path"] == "blocked"
    assert high["path"] == "clear"
    assert high["unseen_behind"] is True


def test_a_direction_open_in_the_picture_hides_nothing(roof, make_wall) -> None:
    roof.wall("block", make_wall(30.0, 22.0, 10.0, 0.0, 6.0), ground=True)
    roof.station("QA", 30.0, 1.5, channel=36)
    assert roof.path()["unseen_behind"] is False
