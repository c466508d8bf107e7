"""Hoses and layouts beside EPANET, friction beside fluids, water beside CoolProp."""

import itertools
import math
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shared.formulas import heat, hydraulics, layouts
from shared.units import from_si, to_si
from shared.verification.kinds.hydraulics import shower_layout
from tests.check_values.references import Reference

Pair = tuple[NDArray[np.float64], NDArray[np.float64]]

BORES_M = to_si(np.array([0.5, 0.625, 0.75, 1.0, 1.5]), "in")
FLOWS_M3_S = to_si(np.array([2.0, 4.0, 6.0, 8.0, 10.0, 15.0]), "gpm")
ROUGHNESS_M = to_si(0.00006, "in")
# EPANET's own pressure of a foot of water, so that its heads are told in psi as it tells them.
PSI_PER_M = 0.4333 / to_si(1.0, "ft")


def epanet(case: dict[str, Any]) -> dict[str, Any]:
    """Solve a shower layout by EPANET: the same case and the same answer as the kind ``shower_layout``.

    The supply is a pump whose head curve runs through the flow test; heads are emitters; a fitting is a minor loss.
    """
    import wntr

    model = wntr.network.WaterNetworkModel()
    model.options.hydraulic.headloss = "H-W"
    model.options.hydraulic.accuracy = 1e-7
    model.options.hydraulic.trials = 500
    model.options.time.duration = 0
    static, residual = case["static_psi"] / PSI_PER_M, case["residual_psi"] / PSI_PER_M
    tested = to_si(case["q_test_gpm"], "gpm")
    model.add_junction("tap", elevation=0.0)
    if static > residual:
        beyond = 1.4 * tested
        at_beyond = static - (static - residual) * 1.4 ** (1 / 0.54)
        model.add_curve("test", "HEAD", [(0.0, static), (tested, residual), (beyond, at_beyond)])
        model.add_reservoir("main", base_head=0.0)
        model.add_pump("supply", "main", "tap", "HEAD", "test")
    else:
        model.add_reservoir("main", base_head=static)
        model.add_pipe("supply", "main", "tap", length=0.01, diameter=1.0, roughness=150)
    heads: list[str] = []
    _lay(model, case["run"], "tap", 0.0, itertools.count(), heads)
    pressures, flows = solve(model)
    psi = [pressures[head] * PSI_PER_M for head in heads]
    each = [model.get_node(head).emitter_coefficient * math.sqrt(max(pressures[head], 0.0)) for head in heads]
    return {
        "q_gpm": from_si(abs(flows["supply"]), "gpm"),
        "heads_gpm": [from_si(flow, "gpm") for flow in each],
        "heads_psi": psi,
    }


def _lay(model: Any, run: dict[str, Any], start: str, height_m: float, names: Iterator[int], heads: list[str]) -> None:
    """Lay a run from a node: its hoses, then its fittings as one short wide pipe, then what is at its end."""
    end_m = height_m + to_si(run.get("elevation_ft", 0.0), "ft")
    fitted = run.get("fittings", [])
    pipes = [
        {
            "length": to_si(s["l_ft"], "ft"),
            "diameter": to_si(s["d_in"], "in"),
            "roughness": s["c_hw"],
            "minor_loss": 0.0,
        }
        for s in run.get("segments", [])
    ]
    if fitted:
        bore = 0.02
        at_1 = sum(one["loss_psi"] / PSI_PER_M / to_si(one["at_gpm"], "gpm") ** 2 for one in fitted)
        k = at_1 * 2 * 9.80665 * (math.pi * bore**2 / 4) ** 2
        pipes.append({"length": 1e-4, "diameter": bore, "roughness": 150, "minor_loss": k})
    node = start
    for index, pipe in enumerate(pipes):
        name = f"n{next(names)}"
        model.add_junction(name, elevation=end_m if index == len(pipes) - 1 else height_m)
        model.add_pipe(f"p{name}", node, name, **pipe)
        node = name
    if run.get("k_gpm_psi05"):
        # In EPANET's terms the flow at one metre of pressure.
        model.get_node(node).emitter_coefficient = to_si(run["k_gpm_psi05"], "gpm") * math.sqrt(PSI_PER_M)
        heads.append(node)
    for further in run.get("onward", []):
        _lay(model, further, node, end_m, names, heads)


def solve(model: Any) -> tuple[dict[str, float], dict[str, float]]:
    """Let EPANET solve a model; give pressure at every node [m] and flow in every link [m3/s]."""
    import wntr

    with tempfile.TemporaryDirectory() as folder:
        results = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(Path(folder) / "run"))
    return results.node["pressure"].iloc[0].to_dict(), results.link["flowrate"].iloc[0].to_dict()


def one_lane(bore_in: float, feet: float, k: float, height_ft: float = 0.0) -> dict[str, Any]:
    """Return one lane of a layout: a hose and a head."""
    return {
        "segments": [{"d_in": bore_in, "l_ft": feet, "c_hw": 140}],
        "elevation_ft": height_ft,
        "k_gpm_psi05": k,
    }


LAYOUTS: list[dict[str, Any]] = [
    # A tap that droops, one hose, two lanes alike.
    {
        "static_psi": 55,
        "residual_psi": 45,
        "q_test_gpm": 12,
        "run": {
            "segments": [{"d_in": 0.75, "l_ft": 50, "c_hw": 140}],
            "onward": [one_lane(0.625, 15, 0.9, 6.5), one_lane(0.625, 15, 0.9, 6.5)],
        },
    },
    # A heater and an injector before the wye, lanes of unlike length.
    {
        "static_psi": 60,
        "residual_psi": 40,
        "q_test_gpm": 20,
        "run": {
            "segments": [{"d_in": 1.0, "l_ft": 50, "c_hw": 130}, {"d_in": 0.75, "l_ft": 35, "c_hw": 140}],
            "fittings": [{"loss_psi": 6, "at_gpm": 8}, {"loss_psi": 10, "at_gpm": 10}],
            "elevation_ft": 2,
            "onward": [one_lane(0.625, 15, 0.8, 5), one_lane(0.5, 50, 0.8, 5), one_lane(0.75, 35, 1.2, 7)],
        },
    },
    # Heads one behind the other along a hose, and a branch that parts once more.
    {
        "static_psi": 80,
        "residual_psi": 80,
        "q_test_gpm": 10,
        "run": {
            "segments": [{"d_in": 0.75, "l_ft": 50, "c_hw": 140}],
            "k_gpm_psi05": 0.3,
            "onward": [
                {
                    "segments": [{"d_in": 0.75, "l_ft": 10, "c_hw": 140}],
                    "k_gpm_psi05": 0.3,
                    "onward": [one_lane(0.75, 10, 0.3)],
                },
                {
                    "segments": [{"d_in": 0.625, "l_ft": 35, "c_hw": 140}],
                    "fittings": [{"loss_psi": 3, "at_gpm": 5}],
                    "onward": [one_lane(0.625, 15, 0.5, 6), one_lane(0.5, 15, 0.5, -2)],
                },
            ],
        },
    },
]


def _flat(answer: dict[str, Any]) -> NDArray[np.float64]:
    return np.array([answer["q_gpm"], *answer["heads_gpm"], *answer["heads_psi"]])


def _layouts() -> Pair:
    both = [(_flat(shower_layout(case)), _flat(epanet(case))) for case in LAYOUTS]
    return np.concatenate([ours for ours, _ in both]), np.concatenate([theirs for _, theirs in both])


def _hazen_williams() -> Pair:
    """EPANET's own losses: its exponents are 1.852 and 4.871 where NFPA 13 prints 1.85 and 4.87."""
    import wntr

    model = wntr.network.WaterNetworkModel()
    model.options.hydraulic.headloss = "H-W"
    model.options.time.duration = 0
    model.options.hydraulic.accuracy = 1e-7
    model.add_reservoir("main", base_head=1000.0)
    ours, ends = [], []
    for bore, flow in itertools.product(BORES_M, FLOWS_M3_S):
        name = f"{bore:.5f}-{flow:.6f}"
        model.add_junction(name, base_demand=float(flow), elevation=0.0)
        model.add_pipe(f"p{name}", "main", name, length=15.24, diameter=float(bore), roughness=140)
        ours.append(hydraulics.hazen_williams_pa(float(flow), float(bore), 15.24) * from_si(1.0, "psi"))
        ends.append(name)
    pressures, _ = solve(model)
    return np.array(ours), np.array([(1000.0 - pressures[end]) * PSI_PER_M for end in ends])


def _parallel() -> Pair:
    import wntr

    lengths, flow = to_si(np.array([15.0, 35.0, 50.0, 100.0]), "ft"), to_si(16.0, "gpm")
    model = wntr.network.WaterNetworkModel()
    model.options.hydraulic.headloss = "H-W"
    model.options.time.duration = 0
    model.options.hydraulic.accuracy = 1e-7
    model.add_reservoir("main", base_head=100.0)
    model.add_junction("end", base_demand=flow)
    for index, length in enumerate(lengths):
        model.add_pipe(f"p{index}", "main", "end", length=length, diameter=to_si(0.625, "in"), roughness=140)
    _, flows = solve(model)
    resistances = [hydraulics.hazen_williams_pa(1.0, to_si(0.625, "in"), float(length)) for length in lengths]
    split = hydraulics.parallel_split(flow, resistances, exponent=1.85)
    return np.array(split.flows_m3_s), np.array([flows[f"p{index}"] for index in range(len(lengths))])


def _viscosity() -> Pair:
    from CoolProp.CoolProp import PropsSI

    t_k = to_si(np.linspace(33.0, 205.0, 60), "degF")
    return hydraulics.viscosity_pa_s(t_k), PropsSI("V", "T", t_k, "P", 101325.0, "Water")


def _darcy() -> Pair:
    from CoolProp.CoolProp import PropsSI
    from fluids import K_from_f, Reynolds, dP_from_K, friction_factor

    ours, theirs = [], []
    for bore, t_f in itertools.product(BORES_M.tolist(), (35.0, 60.0, 105.0)):
        t_k = to_si(t_f, "degF")
        flow = to_si(np.array([0.1, 0.3, *from_si(FLOWS_M3_S, "gpm")]), "gpm")
        water = heat.water_density_kg_m3(t_k), hydraulics.viscosity_pa_s(t_k)
        ours.append(hydraulics.darcy_weisbach_pa(flow, bore, 15.24, ROUGHNESS_M, *water))
        rho, mu = (PropsSI(name, "T", t_k, "P", 101325.0, "Water") for name in ("D", "V"))
        for one in flow:
            speed = one / (math.pi * bore**2 / 4)
            factor = friction_factor(Re=Reynolds(V=speed, D=bore, rho=rho, mu=mu), eD=ROUGHNESS_M / bore)
            theirs.append(dP_from_K(K_from_f(fd=factor, L=15.24, D=bore), rho=rho, V=speed))
    return np.concatenate(ours), np.array(theirs)


def _friction_factor() -> Pair:
    """Colebrook's equation by bracketing, and layers below 2040: another solver than the one that ours calls."""
    from scipy.optimize import brentq

    numbers = np.array([100.0, 1000.0, 2000.0, 3000.0, 1e4, 1e5, 1e6])
    ours, theirs = [], []
    for rough in (0.0, 1e-4, 1e-2):
        ours.append(hydraulics.friction_factor(numbers, rough))
        for number in numbers:

            def colebrook(f: float, number: float = number, rough: float = rough) -> float:
                return 1 / math.sqrt(f) + 2 * math.log10(rough / 3.7 + 2.51 / (number * math.sqrt(f)))

            theirs.append(64 / number if number < 2040 else brentq(colebrook, 1e-3, 1.0, xtol=1e-14))
    return np.concatenate(ours), np.array(theirs)


def _k_loss() -> Pair:
    from fluids import dP_from_K

    speeds = FLOWS_M3_S / (math.pi * BORES_M[2] ** 2 / 4)
    theirs = [dP_from_K(2.5, rho=998.0, V=float(speed)) for speed in speeds]
    return hydraulics.k_loss_pa(FLOWS_M3_S, float(BORES_M[2]), 2.5, 998.0), np.array(theirs)


def _reynolds() -> Pair:
    from fluids import Reynolds

    bore = float(BORES_M[1])
    speeds = FLOWS_M3_S / (math.pi * bore**2 / 4)
    theirs = [Reynolds(V=float(speed), D=bore, rho=998.0, mu=1.1e-3) for speed in speeds]
    return hydraulics.reynolds(FLOWS_M3_S, bore, 998.0, 1.1e-3), np.array(theirs)


def _supply_point() -> Pair:
    """A drooping supply with nothing but a head on it, solved by EPANET's pump curve."""
    cases = [
        {"static_psi": 70, "residual_psi": 50, "q_test_gpm": 15, "run": one_lane(1.5, 0.1, k)} for k in (0.5, 1.0, 2.0)
    ]
    supplies = [layouts.Supply(*(to_si(float(case[key]), unit) for key, unit in _SUPPLY)) for case in cases]
    flows = [to_si(epanet(case)["q_gpm"], "gpm") for case in cases]
    ours = [
        hydraulics.supply_pressure_pa(flow, one.tested_m3_s, one.static_pa, one.residual_pa)
        for flow, one in zip(flows, supplies, strict=True)
    ]
    return np.array(ours), np.array([to_si(epanet(case)["heads_psi"][0], "psi") for case in cases])


_SUPPLY = (("static_psi", "psi"), ("residual_psi", "psi"), ("q_test_gpm", "gpm"))

REFERENCES = [
    Reference("hydraulics.viscosity_pa_s", "CoolProp", "water, 33 to 205 degF, one atmosphere", _viscosity),
    Reference("hydraulics.reynolds", "fluids", "2 to 15 gpm in 5/8 in", _reynolds, 1e-9),
    Reference("hydraulics.friction_factor", "scipy", "Re 100 to 1e6, smooth to 1/100 rough", _friction_factor, 1e-6),
    Reference(
        "hydraulics.darcy_weisbach_pa", "fluids", "0.1 to 15 gpm in 1/2 to 1-1/2 in, 35 to 105 degF", _darcy, 2e-3
    ),
    Reference("hydraulics.k_loss_pa", "fluids", "2 to 15 gpm in 3/4 in", _k_loss, 1e-9),
    Reference("hydraulics.hazen_williams_pa", "wntr", "2 to 15 gpm in 1/2 to 1-1/2 in", _hazen_williams, 6e-3),
    Reference("hydraulics.parallel_split", "wntr", "16 gpm in four hoses of 15 to 100 ft", _parallel, 2e-3),
    Reference("hydraulics.supply_pressure_pa", "wntr", "a tap of 70 psi static, three heads", _supply_point, 2e-3),
    Reference("layouts.settle", "wntr", "three layouts that branch, flow and pressure at each head", _layouts, 1e-2),
]
