"""embed.py circuit.json case.json: the likeliest causes, and the best test with its cautions."""

import json
import sys

import faultodds

circuit, case = (json.load(open(name, encoding="utf-8")) for name in sys.argv[1:3])
with faultodds.Model(circuit) as model:
    answer = model.assess(case)
for cause in answer["causes"]:  # of the complaint, then of every other abnormal symptom
    for share in cause["shares"][:3]:
        print(f"{share['probability']:4.0%}  {' and '.join(share['components'])}")
    print(f"{cause['elsewhere']:4.0%}  something else; {cause['nothing']:4.0%}  nothing wrong")
test = answer["tests"][0]
cautions = faultodds.cautions_of(answer, test)
print(*cautions, f"{test['title']}: {test['minutes']:.0f} min", test["because"], sep="\n")
