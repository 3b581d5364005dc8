"""Print evaporation of open water beside published laws, and open cups beside measured curves.

`python -m tests.benchmarks.open_evaporation`
"""

import sys

import numpy as np

from tests.published.open_evaporation_cases import (
    DIAMETERS,
    OUR_CUPS,
    SCATTER,
    SOURCES,
    STONEWARE,
    TEMPERATURES,
    measured_curves,
    minutes,
    our_evaporation,
)

ROOM = 22.0
"""Of the logged cups whose room was not told [C]."""


def print_laws() -> int:
    """Print our evaporation over each law's; return how many differences lie outside the law's own scatter."""
    outside = 0
    print("evaporation into quiet air of 20 C, 50 %, from a surface at its rim [kg m-2 h-1]; ours over the source's")
    print(f"{'C':>4}" + "".join(f"{name:>10}" for name in SOURCES) + f"{'ours 8 cm':>11}", end="")
    print("".join(f"{f'{100 * d:.0f} cm/{name}':>16}" for name in SOURCES for d in DIAMETERS))
    for celsius in TEMPERATURES:
        print(f"{celsius:>4.0f}" + "".join(f"{law(celsius):>10.3f}" for law in SOURCES.values()), end="")
        print(f"{our_evaporation(celsius, 0.08):>11.3f}", end="")
        for name, law in SOURCES.items():
            for diameter in DIAMETERS:
                ratio = our_evaporation(celsius, diameter) / law(celsius)
                outside += abs(ratio - 1.0) > SCATTER[name]
                print(f"{ratio:>16.3f}", end="")
        print()
    scatter = ", ".join(f"{name} {100 * share:.0f} %" for name, share in SCATTER.items())
    print(f"{outside} outside the mean deviation that each source has from data ({scatter}, Shah 2002).")
    print_shelter()
    return outside


def print_shelter() -> None:
    """Print what a rim above the surface leaves of the evaporation."""
    depths = (0.001, 0.01, 0.02, 0.04, 0.08, 0.16)
    shares = [our_evaporation(80.0, 0.08, depth) / our_evaporation(80.0, 0.08) for depth in depths]
    text = ", ".join(f"{1e3 * depth:.0f} mm {share:.3f}" for depth, share in zip(depths, shares, strict=True))
    print(f"shelter of an 8 cm rim at 80 C: {text}")


def print_cups() -> int:
    """Print times of cups from 90 and 85 to 60 C; return how many of ours lie outside the measured range."""
    print("\nopen cups, 85 to 60 C and 90 to 60 C [min]")
    measured: dict[bool, list[float]] = {True: [], False: []}
    for curve in measured_curves():
        if curve.temperature.max() >= 85.0 and curve.source != "page":
            time = curve.minutes(85.0, 60.0)
            measured["vacuum" in curve.vessel].append(time)
            later = f"{curve.minutes(90.0, 60.0):.1f}" if curve.temperature.max() >= 90.0 else "begins below 90"
            print(f"  measured {curve.source + ' ' + curve.vessel:<36}{time:>6.1f}   {later}")
    outside = 0
    for name, container, volume in OUR_CUPS:
        short, long = (minutes(container, volume, start, 60.0, ROOM) for start in (85.0, 90.0))
        # No cup takes longer than the vacuum mug without its cap.
        slowest = max(measured[name == "steel"])
        outside += not min(measured[False]) <= short[1] <= slowest
        print(f"  predicted {name:<10} {volume} mL {short[1]:>21.1f}   {long[1]:.1f} ({long[0]:.1f} to {long[2]:.1f})")
    print(f"{outside} of {len(OUR_CUPS)} outside the range of the measured ones.")
    return outside


def print_shapes() -> None:
    """Print each measured curve's later times beside ours, with the volume that matches its first part."""
    print("\nshape: volume in an 80 mm stoneware cup that gives the measured first stretch, and the next stretch")
    for curve in measured_curves():
        top = 80.0 if curve.source != "page" else 93.0
        middle, end = (65.6, 37.8) if curve.source == "page" else (66.0, 56.5)
        volumes = np.linspace(100.0, 440.0, 8)
        ours = [minutes(STONEWARE, volume, top, middle, ROOM)[1] for volume in volumes]
        target = curve.minutes(top, middle)
        volume = float(np.interp(target, ours, volumes))
        note = "" if ours[0] <= target <= ours[-1] else "  (beyond what was tried)"
        later = minutes(STONEWARE, volume, middle, end, ROOM)[1]
        name, measured = f"{curve.source} {curve.vessel}", curve.minutes(middle, end)
        stretch = f"{middle:.1f} to {end:.1f} C: ours {later:.1f}, measured {measured:.1f} min"
        print(f"  {name:<36} {volume:>5.0f} mL{note}; {stretch}")


def main() -> int:
    """Print all; 1 if something lies outside what is allowed."""
    outside = print_laws() + print_cups()
    print_shapes()
    return 1 if outside else 0


if __name__ == "__main__":
    sys.exit(main())
