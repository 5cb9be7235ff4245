"""Whole trains against a physics engine: MuJoCo's kinematics and constraints, not ours.

Members are bodies on hinges, a link is a spatial tendon of fixed length between two sites, a
coupling and the held crank are joint equalities. The engine gives each constraint's violation and
its Jacobian; Newton's steps bring the violations to nothing, the crank moved on by small steps.
"""

from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path

import mujoco
import numpy as np
import pytest
from loop_equations import LoopEquations
from numpy.typing import NDArray
from trains import EXAMPLES

from linkage.motion import PinCable, solve
from linkage.parts import Linkage

Floats = NDArray[np.float64]


class Engine:
    """A linkage as a MuJoCo model."""

    def __init__(self, rig: Linkage) -> None:
        self.rig = rig
        self.names = list(rig.members)
        self.model = mujoco.MjModel.from_xml_string(self._xml())
        self.data = mujoco.MjData(self.model)
        mujoco.mj_forward(self.model, self.data)
        given = {
            name: link.length - self.data.ten_length[self.model.tendon(name).id]
            for name, link in rig.link.items()
            if link.length is not None
        }
        for share in np.linspace(0.0, 1.0, 9):
            for name, longer in given.items():
                self.model.eq_data[self.model.equality(f"link {name}").id, 0] = share * longer
            for name, coupling in rig.coupling.items():
                at = self.model.equality(f"coupling {name}").id
                self.model.eq_data[at, 0] = share * math.radians(coupling.offset)
            self._close()

    def _xml(self) -> str:
        bodies, tendons, equalities = [], [], []
        for name, member in self.rig.turning.items():
            sites = []
            for arm in member.arm.values():
                if arm.pin is not None:
                    place = np.asarray(arm.pin) - np.asarray(member.pivot)
                else:
                    assert arm.radius is not None
                    assert arm.angle is not None
                    angle = math.radians(arm.angle)
                    place = np.array([arm.radius * math.cos(angle), arm.radius * math.sin(angle), arm.station])
                sites.append(f'<site name="{name}.{arm.name}" pos="{_numbers(place)}"/>')
            bodies.append(
                f'<body pos="{_numbers(member.pivot)}"><inertial pos="0 0 0" mass="1" diaginertia="1 1 1"/>'
                f'<joint name="{name}" type="hinge" axis="{_numbers(member.axis)}"/>{"".join(sites)}</body>'
            )
        for name, part in self.rig.slide.items():
            sites = [f'<site name="{name}.{pin.name}" pos="{_numbers(pin.at)}"/>' for pin in part.pin.values()]
            bodies.append(
                f'<body><inertial pos="0 0 0" mass="1" diaginertia="1 1 1"/>'
                f'<joint name="{name}" type="slide" axis="{_numbers(part.along)}"/>{"".join(sites)}</body>'
            )
        for name, link in self.rig.link.items():
            ends = "".join(f'<site site="{end}"/>' for end in link.joins)
            tendons.append(f'<spatial name="{name}">{ends}</spatial>')
            equalities.append(f'<tendon name="link {name}" tendon1="{name}"/>')
        for name, coupling in self.rig.coupling.items():
            first, second = coupling.joins
            equalities.append(
                f'<joint name="coupling {name}" joint1="{second}" joint2="{first}" '
                f'polycoef="0 {coupling.ratio!r} 0 0 0"/>'
            )
        equalities.append(f'<joint name="crank" joint1="{self.rig.driver}" polycoef="0 1 0 0 0"/>')
        if self.rig.cable is not None and self.rig.cable.pulls is not None:
            assert self.rig.cable.casing_end is not None
            bodies.append(f'<site name="casing" pos="{_numbers(self.rig.cable.casing_end)}"/>')
            tendons.append(
                f'<spatial name="the cable"><site site="casing"/><site site="{self.rig.cable.pulls}"/></spatial>'
            )
        return (
            '<mujoco><compiler angle="radian"/><option gravity="0 0 0" jacobian="dense"/>'
            f"<worldbody>{''.join(bodies)}</worldbody><tendon>{''.join(tendons)}</tendon>"
            f"<equality>{''.join(equalities)}</equality></mujoco>"
        )

    def _close(self) -> None:
        for _ in range(30):
            mujoco.mj_forward(self.model, self.data)
            violation = np.array(self.data.efc_pos)
            if np.max(np.abs(violation)) < 1e-11:
                return
            self.data.qpos[:] -= np.linalg.solve(self.jacobian(), violation)
        raise AssertionError(f"the engine does not close: {violation}")

    def jacobian(self) -> Floats:
        """The constraints' Jacobian, square: as many constraints as members."""
        return np.array(self.data.efc_J).reshape(len(self.names), len(self.names))

    def turn_to(self, driver: float) -> Floats:
        """Turns [deg], of blocks travels [mm], of the members with the crank held at ``driver``."""
        crank = self.model.equality("crank").id
        last = float(self.model.eq_data[crank, 0])
        wanted = driver / self.units[self.names.index(self.rig.driver)]
        most = 1.0 if self.rig.driver in self.rig.slide else 0.03
        for turn in np.linspace(last, wanted, 2 + int(abs(wanted - last) / most))[1:]:
            self.model.eq_data[crank, 0] = turn
            self._close()
        return np.asarray(self.data.qpos * self.units)

    @property
    def units(self) -> Floats:
        """Degrees in a radian for a hinge; a block's place is in mm already."""
        return np.array([1.0 if name in self.rig.slide else math.degrees(1.0) for name in self.names])

    def speeds(self) -> Floats:
        """Each member's turn [deg] (travel [mm]) per degree (mm) of the crank, here."""
        held = np.zeros(len(self.names))
        rows = np.array(self.data.efc_id)
        held[int(np.flatnonzero(rows == self.model.equality("crank").id)[0])] = 1.0
        return np.asarray(
            np.linalg.solve(self.jacobian(), held) * self.units / self.units[self.names.index(self.rig.driver)]
        )


def _numbers(values: object) -> str:
    return " ".join(repr(float(v)) for v in np.asarray(values, float))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_member_stands_where_the_engine_puts_it(name: str) -> None:
    rig = EXAMPLES[name]()
    run = solve(rig, positions=9)
    engine = Engine(rig)
    for i, turn in enumerate(run.turn):
        stands = dict(zip(engine.names, engine.turn_to(float(turn)), strict=True))
        speeds = dict(zip(engine.names, engine.speeds(), strict=True))
        for member in rig.members:
            assert stands[member] == pytest.approx(run.member_turn[member][i], rel=0, abs=1e-9)
            assert speeds[member] == pytest.approx(run.speed[member][i], rel=0, abs=1e-9)


@pytest.mark.parametrize("name", ["bell_crank", "cross_tube", "skew", "hand_set"])
def test_cable_on_a_pin_runs_and_pulls_as_in_the_engine(name: str) -> None:
    rig = EXAMPLES[name]()
    run = solve(rig, positions=9)
    assert isinstance(run.line, PinCable)
    assert run.cable is not None
    assert run.cable_arm is not None
    engine = Engine(rig)
    cable = engine.model.tendon("the cable").id
    driver = engine.model.joint(rig.driver).id
    runs = []
    for i, turn in enumerate(run.turn):
        engine.turn_to(float(turn))
        runs.append(float(engine.data.ten_length[cable]))
        engine.data.qvel[:] = 0.0
        engine.data.qvel[driver] = 1.0
        mujoco.mj_fwdVelocity(engine.model, engine.data)
        assert -float(engine.data.ten_velocity[cable]) == pytest.approx(run.cable_arm[i], rel=0, abs=1e-9)
        assert runs[0] - runs[i] == pytest.approx(run.cable[i], rel=0, abs=1e-9)


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_member_stands_where_root_finding_on_the_loop_equations_puts_it(name: str) -> None:
    rig = EXAMPLES[name]()
    run = solve(rig, positions=31)
    found = LoopEquations(rig).along(run.turn)
    for member, turns in found.items():
        np.testing.assert_allclose(run.member_turn[member], turns, rtol=0, atol=1e-9)


def test_the_speed_benchmark_compares_routes_to_the_same_turns(capsys: pytest.CaptureFixture[str]) -> None:
    place = Path(__file__).parent / "benchmarks" / "closure_speed.py"
    spec = importlib.util.spec_from_file_location("closure_speed", place)
    assert spec is not None
    assert spec.loader is not None
    benchmark = importlib.util.module_from_spec(spec)
    sys.modules["closure_speed"] = benchmark
    spec.loader.exec_module(benchmark)
    differences = benchmark.largest_difference(5, 7)
    assert list(differences) == ["compiled", "half angle", "scipy root", "scipy brentq"]
    assert all(by < 1e-9 for by in differences.values())
    benchmark.main(5, 7)
    assert capsys.readouterr().out.count("ns a closure") == 5
