"""Transmission angle and tilt, against plain vectors at every position."""

import numpy as np
import pytest
import trains

from linkage import closure, solve
from linkage.answers import joints


@pytest.mark.parametrize("name", [n for n in trains.EXAMPLES if n != "coupled"])
def test_against_vectors(name):
    run = solve(trains.EXAMPLES[name](), positions=7)
    angles, tilts = joints.transmission_angles(run), joints.tilts(run)
    for joint in run.train.joints:
        at, there = run.pose[joint.step.driving], run.pose[joint.step.driven]
        for i in range(7):
            p = np.array([float(v[i]) for v in map(np.broadcast_to, closure.pin(joint.driving, *at), [(7,)] * 3)])
            q = np.array([float(v[i]) for v in map(np.broadcast_to, closure.pin(joint.driven, *there), [(7,)] * 3)])
            u1, u2 = np.array(joint.driving.u, float), np.array(joint.driven.u, float)
            along = p - q
            assert np.linalg.norm(along) == pytest.approx(float(joint.length), abs=1e-9)
            flat = along - (along @ u2) * u2
            inward = np.array([float(np.asarray(c)) for c in joint.driven.centre]) - q
            if joint.driven.slides:  # the cross line of the guide stands for the arm
                inward = np.cross(u2, np.array(joint.driven.e1, float))
            cosine = (flat @ inward) / np.linalg.norm(flat) / np.linalg.norm(inward)
            # the link's direction P to q against the arm's direction O to q: both signs turned
            assert angles[joint.step.by.name][i] == pytest.approx(np.degrees(np.arccos(cosine)), abs=1e-6)
            link = joint.step.by
            first_is_driving = link.joins[0].rpartition(".")[0] == joint.step.driving
            axes = (u1, u2) if first_is_driving else (u2, u1)
            for end, axis in enumerate(axes):
                tilt = np.degrees(np.arcsin(abs(along @ axis) / np.linalg.norm(along)))
                assert tilts[link.name][end][i] == pytest.approx(tilt, abs=1e-9)


def test_a_square_link_by_hand():
    """Equal arms that stand upright under a level link: 90 degrees at that position, no tilt anywhere."""
    run = solve(trains.parallel_pair(angle=90.0, other_angle=90.0), positions=2)
    assert joints.transmission_angles(run)["side"][0] == pytest.approx(90.0, abs=1e-9)
    assert np.all(joints.tilts(run)["side"][0] == 0.0)


def test_sideways_offset_tilts_by_its_share_of_the_length():
    run = solve(trains.cross_tube(), positions=3)
    # tube arm at 10 along the tube, throttle arm at 4 from a shaft at 0: 6 mm aside
    length = joints.lengths(run)["one"]
    for end in joints.tilts(run)["one"]:
        assert end == pytest.approx(np.degrees(np.arcsin(6.0 / length)), abs=1e-9)


@pytest.mark.parametrize("length", [None, 252.0])
def test_at_the_largest_station_offset_the_rod_ends_tilt_to_their_limit(length: float | None) -> None:
    rig = trains.parallel_pair().replace("link.side.tilt_limit", 11.0).replace("link.side.length", length)
    run = solve(rig)
    found = joints.station_offsets(run)["side"]
    assert (found.offset, found.limit) == (0.0, 11.0)
    again = solve(rig.replace("shaft.b.arm.drive.station", found.largest))
    for tilt in joints.tilts(again)["side"]:
        np.testing.assert_allclose(tilt, 11.0, rtol=0, atol=1e-9)
    assert joints.station_offsets(again)["side"].offset == pytest.approx(found.largest, abs=1e-12)
    assert joints.station_offsets(again)["side"].largest == pytest.approx(found.largest, abs=1e-9)


def test_station_offsets_are_of_links_between_parallel_axes() -> None:
    assert set(joints.station_offsets(solve(trains.cross_tube()))) == {"one", "two", "three"}
    assert joints.station_offsets(solve(trains.cross_tube()))["three"].offset == pytest.approx(28.0, abs=1e-12)
    assert joints.station_offsets(solve(trains.skew())) == {}
