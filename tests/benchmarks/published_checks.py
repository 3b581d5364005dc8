"""Print every published figure beside ours: `python -m tests.benchmarks.published_checks`."""

import sys

from tests.published import gas_gap_cases, handbook_cases, iso6946_cases, rarefied_gas_cases
from tests.published.check import Check


def all_checks() -> list[Check]:
    """Handbook examples, cells of ISO 6946 (its formulas, then our pocket model), rarefied gases and gas gaps."""
    return [
        *(check for identifier in handbook_cases.CASES for check in handbook_cases.checks_of(identifier)),
        *iso6946_cases.standard_checks(),
        *iso6946_cases.pocket_checks(),
        *rarefied_gas_cases.free_molecule_checks(),
        *rarefied_gas_cases.conductivity_checks(),
        *gas_gap_cases.gas_gap_checks(),
    ]


def line(check: Check) -> str:
    verdict = "" if check.agrees else "  DISAGREES"
    status = f"{check.status}; {check.reason}" if check.reason else check.status
    difference = 100.0 * check.relative_difference
    return f"{check.name:<86}{check.ours:>12.5g}{check.printed:>10}{difference:>+8.2f}  {status}{verdict}"


def main() -> int:
    """Print the table and a summary; 1 if a figure disagrees with the printed one."""
    checks = all_checks()
    print(f"{'check':<86}{'ours':>12}{'printed':>10}{'diff %':>8}  source status")
    for check in checks:
        print(line(check))
    astray = [check for check in checks if not check.agrees]
    widened = sum(bool(check.reason) for check in checks)
    print(f"{len(checks)} figures, {len(astray)} astray.")
    print(f"{widened} are judged by a tolerance with its reason, the rest by the rounding of the printed digits.")
    return 1 if astray else 0


if __name__ == "__main__":
    sys.exit(main())
