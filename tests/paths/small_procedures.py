"""Random small procedures: choices, options, follows, both sides, repeated items, items on what is excised."""

from __future__ import annotations

import random
from datetime import date
from pathlib import Path
from typing import Any

from builder.model.action import action
from builder.model.catalogue import Catalogue
from builder.model.library import Library
from builder.model.pages import Aftercare, Department, Item, Parts, Procedure, Step, Structure
from builder.place import ID_KEY, PARTS_KEY, Place, Text


def texts(value: Any) -> Any:
    """Return ``value`` with every piece of text as the loader makes it."""
    if isinstance(value, str):
        return Text(value)
    if isinstance(value, list | tuple):
        return [texts(one) for one in value]
    if isinstance(value, dict):
        return {Text(key): texts(one) for key, one in value.items()}
    return value


def _structure(id: str, kind: str, **more: Any) -> Structure:
    return Structure.model_validate(texts({"id": id, "name": f"the {id}", "kind": kind, **more}))


def _item(id: str, kind: str, counted: bool = False, cuts: bool = False) -> Item:
    named = texts({"id": id, "name": f"one {id}", "kind": kind})
    return Item.model_validate(named | {"counted": counted, "cuts": cuts})


STRUCTURES = Catalogue(
    [
        _structure("artery", "vessel", paired=True, close_to=["nerve", "duct"]),
        _structure("vein", "vessel"),
        _structure("nerve", "nerve", paired=True, see_first=True),
        _structure("duct", "duct", see_first=True, close_to=["vein"]),
        _structure("gland", "viscus", paired=True, close_to=["artery"]),
        _structure("bladder", "viscus", close_to=["nerve"]),
        _structure("sheath", "fascia", paired=True, close_to=["nerve"]),
        _structure("chest", "cavity", close_to=["duct"]),
        _structure("groove", "cavity", paired=True),
        _structure("skin", "skin"),
        _structure("flank", "skin", paired=True),
    ]
)
ITEMS = Catalogue(
    [
        _item("swab", "swab", counted=True),
        _item("pack", "pack", counted=True),
        _item("stitch", "suture", counted=True),
        _item("forceps", "instrument", counted=True),
        _item("scalpel", "blade", counted=True),
        _item("shears", "instrument", cuts=True),
        _item("stapler", "instrument"),
        _item("tape", "device"),
        _item("clip", "clip"),
        _item("drain", "drain"),
        _item("dressing", "dressing"),
        _item("mesh", "implant"),
        _item("lidocaine", "drug"),
    ]
)
_SIDES = [None, None, None, "left", "right", "both", "midline"]
_CUTTABLE = ["artery", "vein", "gland", "bladder", "duct", "nerve", "sheath"]
_TARGETS = [None, "chest", "groove", "sheath", "skin", "gland"]
_LAID = ["swab", "swab", "pack", "forceps", "tape", "clip", "drain", "dressing", "mesh"]
_VERBS = [
    *("identify", "identify", "protect", "expose", "open", "close", "close", "clamp", "release", "tie", "suture"),
    *("divide", "divide", "excise", "place", "place", "place", "remove", "remove", "remove", "inject", "count"),
]
_FACTS = ["this", "that", "the other"]


class Maker:
    """Makes procedures from one seed."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.choices: dict[str, list[str]] = {}
        self.forks_left = 5

    def chance(self, of: float) -> bool:
        return self.random.random() < of

    def library(self) -> Library:
        """Return a Library of one procedure."""
        steps = {f"step-{number}": self.step(f"step-{number}") for number in range(self.random.randint(2, 7))}
        aftercare = {f"care-{number}": self.aftercare(f"care-{number}") for number in range(self.random.randint(0, 2))}
        kit = {name: self.random.randint(1, 4) for name in self.random.sample([item.id for item in ITEMS], 6)}
        procedure = Procedure.model_validate(
            {
                ID_KEY: Text("small", Place("content/procedures/small/procedure.md")),
                PARTS_KEY: Parts(steps, {}, aftercare),
                "owner": texts({"name": "A", "role": "b"}),
                "kit": {Text(name): number for name, number in kit.items()},
                "sequence": texts(self.sequence(list(steps), 0)),
                "aftercare": texts(list(aftercare)),
                **texts({"title": "Small", "specialty": "x", "edition": "1", "status": "draft"}),
                "side": self.random.choice(["left", "right", "both", "both", "midline", "either"]),
            }
        )
        department = Department.model_validate({"name": Text("x")})
        return Library(Path(), date(2026, 1, 1), department, STRUCTURES, ITEMS, procedures=(procedure,))

    def step(self, id: str) -> Step:
        facts = self.random.choices(_FACTS, k=2)
        actions = [self.action() for _ in range(self.random.randint(1, 4))]
        if self.chance(0.15):
            actions += self.division()
        if self.chance(0.15):
            actions += self.opening()
        if self.chance(0.15):
            actions += self.layers()
        if self.chance(0.05):
            actions += self.removal()
        return Step.model_validate(
            {
                ID_KEY: Text(id, Place(f"content/procedures/small/steps/{id}.md")),
                "title": Text(id),
                "actions": actions,
                "needs": texts(facts[:1] if self.chance(0.15) else []),
                "gives": texts(facts[1:] if self.chance(0.2) else []),
                "stops_here": Text("done") if self.chance(0.04) else None,
                "converts_to": Text("other") if self.chance(0.04) else None,
            }
        )

    def action(self) -> Any:
        verb = self.random.choice(_VERBS)
        more: dict[str, Any] = {"side": self.random.choice(_SIDES)}
        if verb == "count":
            return action(verb, *self.random.sample(["swabs", "packs", "needles", "blades", "instruments"], 2))
        if verb in ("place", "remove"):
            return self.laying(verb, more)
        if verb == "inject":
            through = {"through": Text("drain")} if self.chance(0.3) else {}
            return action(verb, "lidocaine", **more, **through)
        if verb in ("clamp", "suture", "close", "tie") and self.chance(0.5):
            more["using"] = [Text(self.random.choice(["forceps", "stitch", "clip"]))]
            more["number"] = self.random.randint(1, 2)
        if verb in ("divide", "excise") and self.chance(0.15):
            more["using"] = [Text("stapler")]
        if verb == "clamp" and self.chance(0.1):
            more["stays"] = True
        known = ["chest", "groove", "skin", "flank", "sheath"] if verb in ("open", "close") else _CUTTABLE
        if verb == "open":
            known = [*known, "sheath", "bladder", "artery"]
            more |= self.how_opened()
        return action(verb, *self.random.sample(known, 2 if self.chance(0.15) else 1), **more)

    def division(self) -> list[Any]:
        """A vessel divided between clamps, with a word left out here and there."""
        vessel, side = self.random.choice(["artery", "vein"]), self.random.choice(_SIDES)
        verbs = ["identify", "clamp", "divide", "tie", "release"]
        done = [action(verb, vessel, side=side) for verb in verbs if self.chance(0.75)]
        if self.chance(0.3):
            done.insert(-1, action("close", "skin"))
        return done

    def removal(self) -> list[Any]:
        """A vessel taken out and tied, before or after, or not."""
        vessel, side = self.random.choice(["artery", "vein"]), self.random.choice(_SIDES)
        done = [action(verb, vessel, side=side) for verb in ("identify", "excise", "tie") if self.chance(0.8)]
        if self.chance(0.3):
            self.random.shuffle(done)
        return done

    def how_opened(self) -> dict[str, Any]:
        tool = self.random.choice(["scalpel", "scalpel", "shears", "forceps", None])
        using: dict[str, Any] = {"using": [Text(tool)]} if tool else {}
        if not tool and self.chance(0.3):
            using["what"] = Text("with a finger")
        return using | {"stays": self.chance(0.3), "nick": self.chance(0.3)}

    def opening(self) -> list[Any]:
        """A layer nicked, its neighbour looked for, the layer cut and closed; with a word left out here and there."""
        layer, near = self.random.choice([("sheath", "nerve"), ("chest", "duct")])
        side = {"side": self.random.choice(_SIDES)}
        whole = [
            action("open", layer, **side, **self.how_opened()),
            action("identify", near, **side),
            self.random.choice([action("divide", layer, **side), action("open", layer, **side, **self.how_opened())]),
            self.random.choice([action("close", layer, **side), action("suture", layer, **side)]),
        ]
        return [one for one in whole if self.chance(0.75)]

    def layers(self) -> list[Any]:
        """A layer and what lies beneath it, opened and closed in this order or that, at times with another wound."""
        outer, side = self.random.choice(["sheath", "chest"]), {"side": self.random.choice(_SIDES)}
        inner = self.random.choice(["bladder", "sheath", "artery"])
        opening = [action("open", name, **side, **self.how_opened()) for name in (outer, inner)]
        if self.chance(0.3):
            opening.insert(1, action("open", self.random.choice(["skin", "flank"])))
        closing = [action(self.random.choice(["close", "suture"]), name, **side) for name in (outer, inner)]
        self.random.shuffle(closing)
        return [one for one in (*opening, *closing) if self.chance(0.85)]

    def laying(self, verb: str, more: dict[str, Any]) -> Any:
        more["number"] = self.random.choice([1, 1, 1, 2, 3])
        if self.chance(0.6):
            target = self.random.choice(_TARGETS)
            more["inside"] = Text(target) if target else None
        if self.chance(0.3):
            more["on"] = Text(self.random.choice(["gland", "artery", "skin", "bladder"]))
        if verb == "place" and self.chance(0.2):
            more["stays"] = True
        return action(verb, self.random.choice(_LAID), **more)

    def aftercare(self, id: str) -> Aftercare:
        when = {"from": "0 h"} | ({"until": "2 days"} if self.chance(0.7) else {})
        return Aftercare.model_validate(
            {
                ID_KEY: Text(id, Place(f"content/procedures/small/aftercare/{id}.md")),
                **texts({"title": id, "when": when, "concerns": self.random.choice(_LAID)}),
            }
        )

    def sequence(self, steps: list[str], depth: int) -> list[Any]:
        return [self.entry(steps, depth) for _ in range(self.random.randint(1, 4 if depth else 6))]

    def entry(self, steps: list[str], depth: int) -> Any:
        if depth < 3 and self.forks_left > 0 and self.chance(0.35):
            self.forks_left -= 1
            id = f"choice-{self.forks_left}"
            if self.chance(0.4):
                self.choices[id] = ["taken", "left-out"]
                return {"option": {"id": id, "steps": self.sequence(steps, depth + 1)}}
            names = ["one", "two", "three"][: self.random.choice([2, 2, 3])]
            between = {name: self.branch(steps, depth) for name in names}
            self.choices[id] = names
            return {"choose": {"id": id, "between": between}}
        if depth < 3 and self.choices and self.chance(0.3):
            choice = self.random.choice(list(self.choices))
            names = list(self.choices[choice])
            if self.chance(0.06):
                names.pop(self.random.randrange(len(names)))
            return {"follow": {"choice": choice, "with": {name: self.branch(steps, depth) for name in names}}}
        return self.random.choice(steps)

    def branch(self, steps: list[str], depth: int) -> list[Any]:
        return [] if self.chance(0.25) else self.sequence(steps, depth + 1)
