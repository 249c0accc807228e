"""Lives of parts with two competing Weibull failure modes, as a workshop's records have them: hours that are missing, parts
whose records begin late, and parts looked at again and again. It shares no code with the engine."""

import numpy as np

import fleets

TYPE, MODES = "single_rod_cylinder", ("piston_seal_leak", "rod_seal_leak")


def lives(seed, parts=400, truth=((2.2, 9000.0), (1.3, 14000.0)), missing=0.3, late=0.3, inspections=2):
    """Orders, CSV. A part is followed to its first failure or the end of the study, 12,000 h on the average; a third is
    first recorded at some age, which failures before it keep out."""
    draw = np.random.default_rng(seed)
    rows, number = [], 0
    while number < parts:
        life = [scale * draw.weibull(shape) for shape, scale in truth]
        end = draw.uniform(6000, 18000)
        entry = draw.uniform(500, 5000) if draw.random() < late else 0.0
        if min(life) <= entry or end <= entry:
            continue  # failed, or out of the study, before anybody wrote
        number += 1
        fails = min(life) <= end
        stop = min(min(life), end)
        looks = sorted(draw.uniform(entry, stop, draw.integers(inspections + 1)))
        told = draw.random() >= missing
        asset, day = f"M{number}", np.datetime64("2020-01-01")

        def row(hours, finding, grade, days):
            rows.append({
                "work_order": f"W{len(rows) + 1}", "closed": day + days, "asset": asset, "component": TYPE,
                "finding": finding, "grade": grade, "hours": f"{hours:.0f}" if told else "",
                "entry": f"{entry:.0f}" if told and entry else "",
            })
        for i, at in enumerate(looks):
            row(at, "none", "", 100 * (i + 1))
        if fails:
            row(stop, MODES[int(np.argmin(life))], "failed", 1000)
        else:
            row(stop, "none", "", 1000)
    return fleets.table(rows)


def held(learn, seeds, **habits):
    """Of how many fits the 90 % intervals hold the true shape, and the true scale; and how many there were."""
    truth = habits.get("truth", ((2.2, 9000.0), (1.3, 14000.0)))
    shape = scale = count = 0
    for seed in seeds:
        pack = learn(lives(seed, **habits))
        modes = {m["mode"]: m for m in pack["modes"] if m["type"] == TYPE and not m.get("asset_class")}
        for name, (true_shape, true_scale) in zip(MODES, truth):
            interval = modes[name]["interval"]
            count += 1
            if "shape" not in interval:
                continue
            low, high = interval["shape"]
            shape += low <= true_shape <= high
            low, high = interval["scale_hours"]
            scale += low <= true_scale <= high
    return shape, scale, count
