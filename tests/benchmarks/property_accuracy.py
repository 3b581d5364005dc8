"""Print the worst relative deviation of each fitted property from CoolProp over its range.

Run as `python -m tests.benchmarks.property_accuracy`; exits with 1 if any fit leaves its limit.
"""

import sys

from tests.thermal_model.properties.coolprop_comparison import COMPARISONS


def main() -> int:
    print(f"{'property':36s} {'range [K]':>16s} {'worst':>9s} {'at [K]':>8s} {'limit':>8s}")
    exceeded = 0
    for comparison in COMPARISONS:
        deviation, at = comparison.worst()
        low, high = comparison.span
        exceeded += deviation > comparison.limit
        span = f"{low:7.2f}..{high:7.2f}"
        print(f"{comparison.name:36s} {span:>16s} {deviation:9.1e} {at:8.2f} {comparison.limit:8.0e}")
    return int(exceeded > 0)


if __name__ == "__main__":
    sys.exit(main())
