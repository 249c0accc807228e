"""embed.py circuit.json case.json: the likeliest faults, and the best test with its cautions."""

import json
import sys

import faultodds

circuit, case = (json.load(open(name, encoding="utf-8")) for name in sys.argv[1:3])
with faultodds.Model(circuit) as model:
    answer = model.assess(case)
for fault in sorted(answer["faults"], key=lambda fault: fault["grades"][0])[:3]:
    print(f"{1 - fault['grades'][0]:4.0%}  {fault['component']}: {fault['title']}")
test = answer["tests"][0]
print(*test["cautions"], f"{test['title']}: {test['minutes']:.0f} min", test["because"], sep="\n")
