"""Single mistakes that a tired hand makes, each as a change of the example's record, and whether one may kill or burn.

A mistake edits the record as a plain mapping. It is *dangerous* where, as recorded, somebody can be killed or a fire
start without any further mistake; those must be found, whatever else is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Raw = dict[str, Any]


@dataclass(frozen=True)
class Mistake:
    """One mistake: what was done wrong, in words, and how the record then looks."""

    says: str
    dangerous: bool
    make: Callable[[Raw], None]


MISTAKES: dict[str, Mistake] = {}


def mistake(id: str, says: str, *, dangerous: bool) -> Callable[[Callable[[Raw], None]], Callable[[Raw], None]]:
    def enter(make: Callable[[Raw], None]) -> Callable[[Raw], None]:
        assert id not in MISTAKES
        MISTAKES[id] = Mistake(says, dangerous, make)
        return make

    return enter


def land(raw: Raw, cable: str, core: str, **ends: str) -> None:
    """Land one core of a cable otherwise at one or both ends."""
    raw["cables"][cable].setdefault("cores", {})[core] = ends


def way(raw: Raw, address: str) -> Raw:
    panel, section, number = address.split("/")
    found: Raw = raw["panels"][panel]["sections"][section]["ways"][number]
    return found


# --- what can become live ------------------------------------------------------------------------------------


@mistake("charger-supply-on-dc", "the charger's AC cable landed on its DC side", dangerous=True)
def _(raw: Raw) -> None:
    land(raw, "C403", "black", **{"from": "L1", "to": "start-charger/port:DC+"})
    land(raw, "C403", "white", **{"from": "N", "to": "start-charger/port:DC-"})


@mistake("charger-supply-ends-at-dc", "the charger's AC cable recorded as ending at its DC terminals", dangerous=True)
def _(raw: Raw) -> None:
    raw["cables"]["C403"]["to"] = "start-charger/port"


@mistake("charger-output-on-ac", "the charger's DC cable landed on an AC way", dangerous=True)
def _(raw: Raw) -> None:
    land(raw, "D341", "red", **{"from": "ac-auxiliary/auxiliary/11:L1", "to": "DC+"})


@mistake("line-and-neutral-swapped", "line and neutral exchanged at the dishwasher", dangerous=True)
def _(raw: Raw) -> None:
    land(raw, "C321", "black", **{"from": "L1", "to": "N"})
    land(raw, "C321", "white", **{"from": "N", "to": "L1"})


@mistake("shore-inlet-reversed", "line and neutral exchanged behind shore inlet 2", dangerous=True)
def _(raw: Raw) -> None:
    land(raw, "C102", "black", **{"from": "L1", "to": "N"})
    land(raw, "C102", "white", **{"from": "N", "to": "L1"})


@mistake("line-on-earth", "the line core landed on the earth bar", dangerous=True)
def _(raw: Raw) -> None:
    land(raw, "C205", "black", **{"from": "L1", "to": "PE"})
    land(raw, "C205", "green", **{"from": "PE", "to": "L1"})


@mistake("legs-swapped-in-feeder", "the two lines exchanged in the galley's feeder", dangerous=False)
def _(raw: Raw) -> None:
    land(raw, "C114", "black", **{"from": "L1", "to": "L2"})
    land(raw, "C114", "red", **{"from": "L2", "to": "L1"})


@mistake("inverter-bridged-to-shore", "a cable from the shore section to the inverter section", dangerous=True)
def _(raw: Raw) -> None:
    raw["cables"]["X1"] = {
        "type": "ac-6-4", "from": "ac-main/shore-and-generator/13", "to": "ac-main/inverter", "length": "1 m",
        "label": "X1", "route": ["pilothouse"],
    }  # fmt: skip


@mistake("interlock-removed", "the interlock of the auxiliary panel's two mains taken out", dangerous=True)
def _(raw: Raw) -> None:
    del raw["interlocks"]["auxiliary-mains"]


@mistake("selector-with-both", "the source selector replaced by one with a position for both", dangerous=True)
def _(raw: Raw) -> None:
    raw["devices"]["source-selector"]["positions"] = {
        "off": [], "shore": ["shore"], "generator": ["generator"], "both": ["shore", "generator"],
    }  # fmt: skip


@mistake("generator-on-inlet", "the generator's feeder landed at the shore box instead of the selector", dangerous=True)
def _(raw: Raw) -> None:
    raw["cables"]["C106"]["to"] = "shore-power/inlet-1"


@mistake("bypassed-main", "a second feed to the inverter section around its main", dangerous=True)
def _(raw: Raw) -> None:
    raw["cables"]["X1"] = {
        "type": "ac-6-4", "from": "inverter-output-breaker/load", "to": "ac-main/inverter", "length": "6 m",
        "label": "X1", "route": ["battery-space", "pilothouse"],
    }  # fmt: skip


@mistake("24-on-12", "the pilothouse electronics fed with 24 V around the converter", dangerous=False)
def _(raw: Raw) -> None:
    raw["cables"]["D117"]["to"] = "dc-pilothouse/electronics/1"


@mistake("battery-reversed", "positive and negative exchanged at the generator's start bank", dangerous=True)
def _(raw: Raw) -> None:
    raw["devices"]["generator-start-fuse"].pop("mounted_on")
    raw["cables"]["X1"] = {
        "size": "1/0 AWG", "insulation": "105 degC", "from": "generator-start-bank", "to": "generator-start-fuse/line",
        "length": "0.2 m", "label": "X1", "route": ["engine-room"], "cores": {"red": {"from": "DC-", "to": "DC+"}},
    }  # fmt: skip
    land(raw, "D322", "yellow", **{"from": "DC+", "to": "DC-"})


@mistake("untraced-core", "a core of the watermaker's cable that nobody traced any more", dangerous=False)
def _(raw: Raw) -> None:
    land(raw, "C212", "red", **{"from": "L2", "to": "untraced"})


# --- neutral and earth ---------------------------------------------------------------------------------------


@mistake("neutral-on-other-section", "the ice maker's neutral landed on the shore section's bar", dangerous=False)
def _(raw: Raw) -> None:
    land(raw, "C308", "white", **{"from": "ac-main/shore-and-generator:N", "to": "N"})


@mistake("earth-core-dropped", "the range fed by a cable without earth", dangerous=True)
def _(raw: Raw) -> None:
    land(raw, "C320", "green", **{"from": "free", "to": "free"})


@mistake("neutral-earth-strap", "neutral and earth joined in the AC main panel", dangerous=True)
def _(raw: Raw) -> None:
    raw["cables"]["X1"] = {
        "size": "6 AWG", "insulation": "105 degC", "sheath": False, "from": "ac-main/shore-and-generator",
        "to": "ac-main/shore-and-generator", "length": "0.2 m", "label": "X1",
        "cores": {"green": {"from": "N", "to": "PE"}}, "route": ["pilothouse"],
    }  # fmt: skip


@mistake(
    "selector-leaves-neutral", "the source selector replaced by one that does not switch the neutral", dangerous=True
)
def _(raw: Raw) -> None:
    raw["devices"]["source-selector"]["poles"] = ["L1", "L2"]


@mistake("generator-without-bond", "generator 1's neutral-earth joint taken out", dangerous=True)
def _(raw: Raw) -> None:
    raw["devices"]["generator-1"]["neutral_earth_bond"] = False


@mistake("relay-without-bond", "the inverter-charger's neutral-earth relay disabled", dangerous=True)
def _(raw: Raw) -> None:
    raw["devices"]["inverter-charger"]["neutral_earth_relay"] = False


@mistake("green-on-neutral", "the microwave's earth core landed on the neutral bar", dangerous=True)
def _(raw: Raw) -> None:
    land(raw, "C334", "green", **{"from": "N", "to": "PE"})


@mistake(
    "panel-unearthed", "the earth cable of the AC main panel taken off, with those that pass through it", dangerous=True
)
def _(raw: Raw) -> None:
    del raw["cables"]["E104"]
    for cable in raw["cables"].values():
        for end in ("from", "to"):
            if cable[end].startswith("ac-main/") or cable[end] == "ac-main":
                cable.setdefault("cores", {})
                if "type" in cable and cable["type"].startswith("ac-"):
                    cable["cores"]["green"] = {"from": "free", "to": "free"}


@mistake("second-earth-negative-joint", "a second joint of AC earth and DC negative", dangerous=False)
def _(raw: Raw) -> None:
    raw["cables"]["X1"] = {
        "size": "8 AWG", "insulation": "105 degC", "sheath": False, "from": "earth-bar", "to": "dc-main/house",
        "length": "4 m", "label": "X1", "cores": {"green": {"from": "PE", "to": "DC-"}}, "route": ["saloon"],
    }  # fmt: skip


@mistake("earth-around-isolator", "the earth of shore 1 landed past its galvanic isolator", dangerous=False)
def _(raw: Raw) -> None:
    land(raw, "C101", "green", **{"from": "PE", "to": "shore-power:PE"})


@mistake("no-polarity-indicator", "the polarity indicators taken out of the shore box and the panels", dangerous=False)
def _(raw: Raw) -> None:
    for panel in raw["panels"].values():
        panel["fitted"] = [word for word in panel.get("fitted", []) if word != "polarity-indicator"]


# --- protection ----------------------------------------------------------------------------------------------


@mistake("breaker-too-large", "a 50 A breaker put in for the dehumidifier's 14 AWG cable", dangerous=True)
def _(raw: Raw) -> None:
    way(raw, "ac-auxiliary/auxiliary/6")["rating"] = "50 A"


@mistake("cable-too-thin", "the range rewired with 14 AWG", dangerous=True)
def _(raw: Raw) -> None:
    raw["cables"]["C320"]["size"] = "14 AWG"


@mistake("fuse-removed", "the pilothouse inverter's DC cable moved from its fuse to the bar", dangerous=True)
def _(raw: Raw) -> None:
    raw["cables"]["D113"]["from"] = "battery-distribution/house"


@mistake("fuse-far-from-bank", "the house fuse moved three metres away from the bank", dangerous=True)
def _(raw: Raw) -> None:
    del raw["devices"]["house-fuse"]["mounted_on"]
    raw["cables"]["X1"] = {
        "type": "dc-plus", "size": "4/0 AWG", "from": "house-bank", "to": "house-fuse/line", "length": "3 m",
        "label": "X1", "route": ["battery-space"],
    }  # fmt: skip


@mistake("neutral-fused", "a fuse put into the neutral alone", dangerous=True)
def _(raw: Raw) -> None:
    way(raw, "ac-main/inverter/9")["poles"] = ["N"]
    land(raw, "C309", "black", **{"from": "ac-main/inverter:L1", "to": "L1"})


@mistake("weak-breaker", "a DC breaker that breaks no more than 500 A put in beside the bank", dangerous=True)
def _(raw: Raw) -> None:
    way(raw, "battery-distribution/house/1").update(device="breaker", interrupting="500 A")
    del way(raw, "battery-distribution/house/1")["family"]


@mistake("leakage-protection-removed", "shore 1's residual-current breaker replaced by a plain one", dangerous=False)
def _(raw: Raw) -> None:
    del way(raw, "shore-power/inlet-1/1")["delay"]
    way(raw, "shore-power/inlet-1/1")["residual_current"] = "0 mA"


@mistake("low-voltage-fuse", "a 32 V fuse put into an AC way", dangerous=True)
def _(raw: Raw) -> None:
    way(raw, "ac-main/inverter/8").update(device="fuse", family="blade", voltage_rating="32 V")


# --- use of sources ------------------------------------------------------------------------------------------


@mistake("charger-on-inverter", "the start charger moved to the inverter section", dangerous=False)
def _(raw: Raw) -> None:
    raw["devices"]["start-charger"]["outputs"] = ["port", "starboard", "generator", "house"]
    raw["devices"]["start-charger"]["dc_system"] = "dc-24"
    raw["cables"]["C403"]["from"] = "ac-main/inverter/11"
    raw["cables"]["X1"] = {
        "type": "dc-two", "size": "6 AWG", "from": "start-charger/house", "to": "battery-distribution/house/9",
        "length": "3 m", "label": "X1", "route": ["engine-room", "battery-space"],
    }  # fmt: skip
    way(raw, "battery-distribution/house/9").pop("spare")


@mistake("heater-on-inverter", "the water heater moved to the inverter section", dangerous=False)
def _(raw: Raw) -> None:
    raw["cables"]["C204"]["from"] = "ac-main/inverter/10"
    way(raw, "ac-main/inverter/10").update(poles=["L1", "L2"])


@mistake("too-much-on-generator", "a second range on the shore section", dangerous=False)
def _(raw: Raw) -> None:
    raw["loads"]["range-2"] = {**raw["loads"]["range"], "power": "11 kW"}
    raw["loads"]["range-2"].pop("formerly", None)
    raw["cables"]["X1"] = {
        "type": "ac-6-4", "from": "ac-main/shore-and-generator/13", "to": "range-2", "length": "5 m", "label": "X1",
        "route": ["pilothouse", "galley"],
    }  # fmt: skip
    way(raw, "ac-main/shore-and-generator/13").update(rating="50 A")
    way(raw, "ac-main/shore-and-generator/13").pop("spare")
    for condition in raw["conditions"].values():
        condition.setdefault("demand", {})["range-2"] = 1.0


# --- conductors and fit-out ----------------------------------------------------------------------------------


@mistake("colours-swapped", "black used for neutral and white for line", dangerous=False)
def _(raw: Raw) -> None:
    raw["cables"]["C332"]["cores"] = {"black": "N", "white": "L1", "green": "PE"}


@mistake("triplex-for-dc", "AC cable, unlabelled, used for a DC load in the combined enclosure", dangerous=False)
def _(raw: Raw) -> None:
    cable = next(c for c in raw["cables"].values() if c["from"] == "pilothouse-combined/dc-24/5")
    cable.update(type="ac-14-l1", cores={"black": "DC+", "white": "DC-", "green": "spare"}, label="none")


@mistake("two-cables-on-a-way", "the ice maker landed on the wine cooler's way", dangerous=False)
def _(raw: Raw) -> None:
    raw["cables"]["C308"]["from"] = "ac-main/inverter/9"
    raw["cables"]["C308"]["cores"] = {"red": "L1", "white": "N", "green": "PE"}
    raw["loads"]["ice-maker"]["poles"] = ["L1", "N"]


@mistake("label-of-another", "the screens' cable labelled as the navigation computer's", dangerous=False)
def _(raw: Raw) -> None:
    raw["cables"]["C503"]["label"] = "C502"


@mistake("cover-off", "the rear cover of the AC main panel not put back", dangerous=False)
def _(raw: Raw) -> None:
    raw["panels"]["ac-main"]["fitted"].remove("rear-cover")


@mistake("id-misspelt", "a cable that ends at a load nobody recorded", dangerous=False)
def _(raw: Raw) -> None:
    raw["cables"]["C309"]["to"] = "wine-coolr"
