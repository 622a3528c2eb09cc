#!/usr/bin/env python3
"""Mutation testing of the rooms that compute: are broken formulas noticed?

    python .ci/mutants.py COPY --out FILE.jsonl [--count N] [--seed S] [--room ROOM ...]
                          [--together] [--again FILE]

COPY is a copy of the work tree: its files are changed and put back, one place at a time. The
mutants are cosmic-ray's (pip install cosmic-ray==8.7.0; nothing else needs it). A full run would
take days, so a random sample is drawn from each room, the same one for the same seed and source.

Left out of the population, as any test or none would tell them: mutants inside annotations, bit
operators in the place of arithmetic (floats know none), sums and products in the place of "or" and
"and" on masks (they are the same there), and the removal of numba's decorators. The
kernel's mutants run uncompiled (NUMBA_DISABLE_JIT), so that no compiled copy can be stale.
Mutants already in FILE are not run again. The rooms are worked on by turns, so that a run that is
stopped is a random sample too. With --together the N are drawn from all the rooms named at once,
each mutant as likely, and run in the order drawn. --again runs the survivors of an earlier run's
FILE once more, with the tests as they are now. What takes longer than 300 s is listed apart: a loop
may have become endless, or the tests be slow.
"""

import argparse
import ast
import json
import os
import random
import re
import sys
import time
from pathlib import Path
from typing import Any

from cosmic_ray.commands.init import _all_work_items
from cosmic_ray.mutating import mutate_and_test
from cosmic_ray.work_item import MutationSpec

TESTS = {
    "lattice": (
        "frozen places_by_hand fin_planforms spacing planform lattice_warnings fin_places "
        "centreline curved_outlines camber_rows matched_spacing natural_sizes contact "
        "folding_geometry bends thickness published invariants hinge_loads derivatives"
    ),
    "flow": (
        "frozen wake_by_hand memory_by_hand wakes_together strips_by_hand unit_flows "
        "trailing_edge relaxed published invariants fin_loads turned_wakes derivatives "
        "relaxed_loads kernel"
    ),
    "kernel": "kernel",
    "power": (
        "frozen rotors_by_hand elements_by_hand strip_winds momentum_theory slipstream "
        "compiled_strips published power_parts rotor_cross_validation measured_rotors"
    ),
    "sections": (
        "frozen polars_by_hand newton_by_hand strips_by_hand section_polars compiled_strips "
        "thickness fin_sections strip_coupling turning_wake folded_sections published"
    ),
    "ground": "frozen frames air verdicts disk quantities sides published invariants",
    "flight/craft": (
        "level_by_hand left_open steady_roll_by_hand "
        "modes_by_name folded_craft mass_properties folded_sections lateral_stability"
    ),
    "flight/trim": (
        "tables_by_hand warned_trims "
        "sampled_trims special_airspeeds small_formulas branches_by_hand trim power_parts "
        "spot_trims power_branches moments_of_rotors roll_rotor_moments power_curve top_speed"
    ),
    "flight/mechanism": (
        "hinges_by_hand bending_by_hand worm_and_servo hinge_loads corners_in_studies roll_motion"
    ),
    "flight/motion": (
        "roll_by_hand manoeuvres_by_hand "
        "rows_and_rays modes_by_name small_formulas modes_of_motion roll_motion lateral_stability"
    ),
    "flight/plan": (
        "plan_loads tables_by_hand constraints_by_hand "
        "least_power_folds rows_and_rays mission_legs plan_constraints fold_schedule "
        "closed_form_missions missions"
    ),
    "flight/simulation": (
        "runs_by_hand tables_by_hand plants_by_hand "
        "motion_parts drive_and_law motion_mechanics motion_in_air motion_rotors "
        "motion_command export"
    ),
    "log": (
        "flight_log_words flight_log_warnings flight_log_parts flight_log_model"
        " flight_log_rules flight_log_curves flight_log_explained flight_log_clocks"
        " flight_log_ranges flight_log_segments flight_log_statistics flight_log_rows"
        " flight_log_plausible flight_log_loads flight_log_wind flight_log_tables flight_log_craft"
    ),
    "study": (
        "left_open plan_loads blown_by_hand charted_plans mission_flights motion_rows map_cells "
        "hinge_rows roll_rows dimensions sheets_by_hand documents_by_hand "
        "hover_by_hand searches_by_hand goals_by_hand "
        "half_widths roll_histories mission_answers changed_dimensions number_warnings "
        "tables_and_slipstream compared_numbers charts_and_levels schedule_words "
        "limits_of_moves checked_draws kept_limits "
        "compare design_search sensitivity error_estimates sweep sweep_runs "
        "schemas convergence export check missions motion_schedule motion_spread"
    ),
    "chart": "frozen chart_nodes fold_points kept_arrays loads_chart charts_exact",
    "unsteady": (
        "frozen marches_by_hand apparent_mass unsteady_fins unsteady_flapping unsteady_wings "
        "unsteady_sections unsteady_tips"
    ),
    "loads": (
        "frozen engine_choices relaxed_by_hand tables_together sizes_by_hand segments_by_hand "
        "softened_rows charts_by_hand bends model_limits loose_ends unit_flows published "
        "yawed_rectangles session fin_loads hinge_loads natural_sizes strip_coupling invariants "
        "stream_tables derivatives model_spread accuracy_targets relaxed_loads folded_craft "
        "error_estimates loads_chart"
    ),
}
COUNTS = {
    "kernel": 80, "flow": 80, "loads": 130, "lattice": 130, "power": 30, "sections": 30,
    "flight/craft": 30, "flight/trim": 30, "flight/mechanism": 30, "flight/motion": 30,
    "flight/plan": 30, "flight/simulation": 30, "log": 30, "study": 30, "chart": 30,
    "unsteady": 30, "ground": 30,
}  # fmt: skip
KERNEL = ("vlm/flow/kernel.py", "vlm/flow/kernel_rates.py")  # compiled
GROUND = tuple(f"vlm/{name}.py" for name in ("air", "disk", "frames", "quantities", "verdicts"))
BITS = ("BitAnd", "BitOr", "BitXor", "LShift", "RShift")
ALIKE = ("BitAnd_Mul", "BitOr_Add")  # on masks
SECONDS = 300
OTHERS = 8


def annotations(path: Path) -> list[tuple[int, int, int, int]]:
    """Stretches of a file that are annotations: first line, column, last line, column."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        held = [getattr(node, "annotation", None), getattr(node, "returns", None)]
        found += [
            (part.lineno, part.col_offset, part.end_lineno, part.end_col_offset)
            for part in held
            if isinstance(part, ast.expr)
        ]
    return found


def counted(mutation: MutationSpec, notes: dict[str, list[tuple[int, int, int, int]]]) -> bool:
    """Whether a mutant belongs to the population."""
    name, path = mutation.operator_name, str(mutation.module_path)
    if "BinaryOperator" in name and name.endswith((*BITS, *ALIKE)):
        return False
    if "RemoveDecorator" in name and Path(path).name.startswith("kernel"):
        return False
    place = mutation.start_pos
    return not any((a, b) <= place < (c, d) for a, b, c, d in notes[path])


def population(room: str) -> list[MutationSpec]:
    """All mutants of a room, in order; the kernel counts as a room of its own."""
    folder = Path("vlm", "flow" if room == "kernel" else room)
    paths = [p for p in sorted(folder.rglob("*.py")) if (str(p) in KERNEL) == (room == "kernel")]
    if room == "ground":
        paths = [Path(path) for path in GROUND]
    notes = {str(path): annotations(path) for path in paths}
    items = (item.mutations[0] for item in _all_work_items(paths, {}))
    return [mutation for mutation in items if counted(mutation, notes)]


def room_of(path: str) -> str:
    """The room that a file counts to."""
    if path in GROUND:
        return "ground"
    if path in KERNEL:
        return "kernel"
    folder = Path(path).parent.relative_to("vlm")
    return next(str(part) for part in (folder, *folder.parents) if str(part) in COUNTS)


def command(path: str) -> str:
    """The tests that are to notice a mutant of a file.

    Those of its room that import it first, then those named for the room, then the smallest
    others that import it.
    """
    room = room_of(path)
    folder, _, name = str(Path(path).with_suffix("")).replace("/", ".").rpartition(".")
    imports = re.compile(rf"{folder}\.{name}\b|from {folder} import (\([^)]*|.*)\b{name}\b")
    direct = [
        test
        for test in sorted(Path("tests").glob("*/test_*.py"), key=lambda one: one.stat().st_size)
        if imports.search(test.read_text(encoding="utf-8"))
    ]
    near = [next(Path("tests").glob(f"*/test_{name}.py")) for name in TESTS[room].split()]
    own = [test for test in near if test in direct]
    files = " ".join(str(test) for test in dict.fromkeys((*own, *near, *direct[:OTHERS])))
    before = "env HYPOTHESIS_PROFILE=first " + ("NUMBA_DISABLE_JIT=1 " if room == "kernel" else "")
    return f"{before}{sys.executable} -m pytest -x -q -p no:cacheprovider {files}"


def tested(mutation: MutationSpec) -> dict[str, Any]:
    """Run the tests on one mutant."""
    started = time.monotonic()
    result = mutate_and_test([mutation], command(str(mutation.module_path)), SECONDS)
    return {
        "file": str(mutation.module_path),
        "operator": mutation.operator_name,
        "occurrence": mutation.occurrence,
        "line": mutation.start_pos[0],
        "outcome": str(result.test_outcome),
        "worker": str(result.worker_outcome),
        "seconds": round(time.monotonic() - started, 1),
        "diff": result.diff,
        "by": [
            x
            for x in (result.output or "").splitlines()
            if x.startswith(("FAILED", "ERROR")) or x == "timeout"
        ],
    }


def key_of(result: dict[str, Any]) -> tuple[str, str, int]:
    """What tells a mutant from others."""
    return result["file"], result["operator"], result["occurrence"]


def survived(result: dict[str, Any]) -> bool:
    """Whether no test noticed a mutant."""
    return "SURVIVED" in str(result["outcome"])


def chosen(arguments: argparse.Namespace) -> list[MutationSpec]:
    """The mutants to run."""
    picked = []
    rooms = arguments.room or list(COUNTS)
    if arguments.together:
        mutants = [mutant for room in rooms for mutant in population(room)]
        print(f"{len(mutants)} mutants", file=sys.stderr)
        return random.Random(arguments.seed).sample(mutants, arguments.count or 60)
    for room in rooms:
        mutants = population(room)
        if arguments.again:
            text = arguments.again.read_text(encoding="utf-8")
            lines = [json.loads(line) for line in text.splitlines()]
            wanted = {key_of(line) for line in lines if survived(line)}
            picked += [
                m for m in mutants if (str(m.module_path), m.operator_name, m.occurrence) in wanted
            ]
            continue
        print(f"{room}: {len(mutants)} mutants", file=sys.stderr)
        picked += random.Random(arguments.seed).sample(mutants, arguments.count or COUNTS[room])
    return sorted(picked, key=lambda one: random.Random(f"{one}").random())


def main() -> None:
    """Read the command line; run; add it up."""
    parser = argparse.ArgumentParser()
    parser.add_argument("copy", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, help="mutants of each room, or of all together")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", nargs="+", choices=sorted(TESTS))
    parser.add_argument("--together", action="store_true")
    parser.add_argument("--again", type=Path)
    arguments = parser.parse_args()
    out = arguments.out.resolve()
    if arguments.again:
        arguments.again = arguments.again.resolve()
    os.chdir(arguments.copy)
    os.environ["PYTHONPATH"] = str(Path.cwd())
    before = out.read_text(encoding="utf-8").splitlines() if out.exists() else []
    results = [json.loads(line) for line in before]
    done = {key_of(result) for result in results}
    with out.open("a", encoding="utf-8") as file:
        for mutation in chosen(arguments):
            if (str(mutation.module_path), mutation.operator_name, mutation.occurrence) in done:
                continue
            results.append(tested(mutation))
            file.write(json.dumps(results[-1]) + "\n")
            file.flush()
    for room in COUNTS:
        own = [result for result in results if room_of(result["file"]) == room]
        kills = [not survived(result) for result in own]
        slow = sum(result["by"] == ["timeout"] for result in own)
        print(f"{room}: {sum(kills)} of {len(kills)} killed, {slow} of them by taking too long")


if __name__ == "__main__":
    main()
