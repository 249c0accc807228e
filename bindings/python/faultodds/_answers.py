"""What a program needs of an answer that is more than looking a member up."""

from typing import Any, List, Mapping


def cautions_of(answer: Mapping[str, Any], test: Mapping[str, Any]) -> List[str]:
    """All cautions to be shown before a test of an assessment, those for all work first.

    An answer for a screen has each text once, and tests refer to them by id; the whole answer
    (``"detail": "full"`` in the case) repeats them with every test.
    """
    if "cautions" in test:
        return list(test["cautions"])
    return list(answer["cautions"]) + [answer["further_cautions"][i] for i in test["caution_ids"]]
