"""invented_fleet.py DEMO_ORDERS FOLDER: gives the orders that `faultodds-priors demo` invents machines, asset classes
and hours, and says which machines were under watch. Writes orders.csv and exposure.csv. Nothing in it is of any
fleet. Faults of rear loaders come ever faster; as orders come evenly, those of the others are ever fewer."""

import csv
import datetime
import random
import sys
from pathlib import Path

CLASSES = {"side loader": 18, "rear loader": 14, "hook lift": 10}
HOURS = {"single_rod_cylinder": (2.2, 4200), "port_relief": (1.0, 9000), "hose": (1.6, 5200)}  # shape, scale


def write(demo, folder, seed=7):
    draw = random.Random(seed)
    folder = Path(folder)
    with open(demo, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    machines = [(f"{name[0].upper()}{number:02}", name) for name, count in CLASSES.items() for number in range(count)]
    days = sorted(datetime.date.fromisoformat(row["closed"]) for row in rows)
    first, last = days[0], days[-1]
    span = (last - first).days
    of_order = {}
    for row in rows:
        at = (datetime.date.fromisoformat(row["closed"]) - first).days / span
        if row["work_order"] not in of_order:
            weight = {"side loader": 1, "rear loader": 0.3 + 2.2 * at, "hook lift": 0.6}
            of_order[row["work_order"]] = draw.choices(machines, [weight[name] for _, name in machines])[0]
        row["asset"], row["asset_class"] = of_order[row["work_order"]]
        row["confirmed"] = "yes" if draw.random() < 0.8 else "no"
        row["sound_at"] = ""
        shape, scale = HOURS.get(row["component"], (1.3, 8000))
        if draw.random() < 0.7:
            hours = scale * draw.expovariate(1) ** (1 / shape)
            if row["finding"] == "none":
                hours *= draw.random()
            row["hours"] = f"{hours:.0f}"
            if row["finding"] != "none" and row["component"] == "hose" and draw.random() < 0.5:
                row["sound_at"] = f"{hours * draw.uniform(0.5, 0.95):.0f}"
    rows.append(dict(rows[-1], work_order="J-1", closed="2022-02-31"))  # no such day
    rows.append(dict(rows[-1], work_order="J-2", closed=last.isoformat(), component="bucket tooth"))
    with open(folder / "orders.csv", "w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, list(rows[0]))
        table.writeheader()
        table.writerows(rows)
    with open(folder / "exposure.csv", "w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(["asset", "asset_class", "component", "in_service", "hours", "age", "from", "to"])
        for asset, name in machines:
            begins = first + datetime.timedelta(days=draw.choice([0, 0, 0, span // 4]))
            for component, count in (("single_rod_cylinder", 4), ("port_relief", 6), ("hose", 16)):
                age = draw.uniform(200, 6000)
                table.writerow([asset, name, component, count, round(count * age), round(age), begins, last])


if __name__ == "__main__":
    write(*sys.argv[1:3])
