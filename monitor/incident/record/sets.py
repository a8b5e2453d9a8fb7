"""Sets before and after use: defects, what is still to be done, cylinders to be filled."""

from monitor.incident import starting
from monitor.incident.conditions import review_wearer
from monitor.incident.contact import Contact
from monitor.incident.events import JoinPack
from monitor.incident.picture import AfterUseView, CylinderView, DefectView, Phase
from monitor.incident.record.events import (
    AfterStep,
    ChangeCylinder,
    ClearDefect,
    FillCylinder,
    ReportDefect,
    TickAfterUse,
)
from monitor.incident.record.state import DEFECTS_MAX, TO_FILL_MAX, Defect, ToFill
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

STEPS: tuple[AfterStep, ...] = (
    "valve closed",
    "bled",
    "electronics off",
    "cylinder off",
    "made ready",
)
BLED_DBAR = 50
"""A gauge that shows no more than 5 bar: the set has been bled (our own choice)."""
LABEL_MAX = 45
"""Of a wearer's name in a cylinder's, which must fit the field of ``FillCylinder``."""
_TAKEN_OFF: AfterStep = "cylinder off"


def set_name(wearer: Wearer) -> str:
    """What this wearer's set is called: as printed on it, else by its pack, else by its wearer."""
    return set_called(wearer.set_id, wearer.pack, wearer.label)


def set_called(set_id: str, pack: int | None, label: str) -> str:
    """The same of a set with this mark and pack on a wearer of this name."""
    return set_id or (f"set of {label}"[:20] if pack is None else f"pack {pack}")


def cylinder_name(wearer: Wearer) -> str:
    """The same for the cylinder on it; without a mark it goes by the wearer and the wear."""
    nth = wearer.wear.cylinders if wearer.wear else 1
    more = f", cylinder {nth}" if nth > 1 else ""
    return wearer.cylinder_id or f"{wearer.label[:LABEL_MAX]}, wear {wearer.connected}{more}"


# ---------------------------------------------------------------- acts


def report_defect(s: Situation, act: ReportDefect) -> None:
    """Keep the set out of use from now on."""
    known = (w.pack for w in s.wearers.values() if set_name(w) == act.set_id)
    s.record.defects[act.set_id] = Defect(act.text, s.now, act.by, next(known, None))


def clear_defect(s: Situation, act: ClearDefect) -> None:
    """It may be used again."""
    del s.record.defects[act.set_id]


def put_on(s: Situation, wearer: Wearer, act: JoinPack) -> None:
    """Note what is printed on set and cylinder; with another set on, the old cylinder is used.

    What is not said of the same set is as it was.
    """
    same = act.pack == wearer.pack and act.set_id in {"", wearer.set_id}
    if not (same and act.cylinder_id in {"", wearer.cylinder_id}) and not wearer.under_air:
        _to_fill(s, wearer)
    wearer.set_id = act.set_id or (wearer.set_id if same else "")
    wearer.cylinder_id = act.cylinder_id or (wearer.cylinder_id if same else "")
    wearer.ticked.clear()


def change_cylinder(s: Situation, act: ChangeCylinder) -> None:
    """Put the old one on the list, and check the set anew; on air, count from the fresh one."""
    wearer = s.wearers[act.wearer]
    wear, contact = wearer.live_wear, s.contact_of(wearer)
    if wear is not None:
        last = s.reading(wearer, contact)
        wear.left_bar = last.bar if last else None
    _to_fill(s, wearer)
    wearer.cylinder_id = act.cylinder_id
    if act.water_volume_l is not None:
        wearer.water_volume_l = act.water_volume_l
    if act.rated_bar is not None:
        wearer.rated_bar = act.rated_bar
    wearer.ticked.clear()
    if wear is not None:
        starting.fresh_cylinder(s, wearer, wear)
        wear.left_bar, wear.listed = None, False
    elif contact is not None:
        contact.another_cylinder()
    if wearer.phase is Phase.OFF_AIR:
        wearer.step_to(Phase.CHECKED_IN)
        wearer.phase_ns = s.now
    review_wearer(s, wearer)


def fill_cylinder(s: Situation, act: FillCylinder) -> None:
    """Take it off the list."""
    del s.record.to_fill[act.cylinder_id]


def tick_after_use(s: Situation, act: TickAfterUse) -> None:
    """Note the step; a cylinder that is off is to be filled."""
    wearer = s.wearers[act.wearer]
    wearer.after.add(act.step)
    if act.step == _TAKEN_OFF:
        _to_fill(s, wearer)


def _to_fill(s: Situation, wearer: Wearer) -> None:
    """Once for each wear: what is taken off after that was not breathed from."""
    wear = wearer.wear
    if wear is not None and not wear.listed and len(s.record.to_fill) < TO_FILL_MAX:
        wear.listed = True
        s.record.to_fill[cylinder_name(wearer)] = ToFill(wear.left_bar, wearer.number)


# ---------------------------------------------------------------- refusals


def why_not_change(s: Situation, act: ChangeCylinder, _t: int) -> str | None:
    """A cylinder is changed for a full one, on a set that may be used."""
    wearer = s.wearers[act.wearer]
    if wearer.phase is Phase.LISTED:
        return f"{wearer.label} has no set."
    if act.cylinder_id and act.cylinder_id == wearer.cylinder_id:
        return f"Cylinder {act.cylinder_id} is the one that is on the set."
    if act.cylinder_id in s.record.to_fill:
        return f"Cylinder {act.cylinder_id} is among those to be filled."
    return None if wearer.under_air else _why_at_fault(s, wearer, wearer.set_id, wearer.pack)


def why_not_filled(s: Situation, act: FillCylinder, _t: int) -> str | None:
    """Only what is on the list."""
    if act.cylinder_id in s.record.to_fill:
        return None
    return f"Cylinder {act.cylinder_id} is not among those to be filled."


def why_not_after(s: Situation, act: TickAfterUse, _t: int) -> str | None:
    """Only a set that was used, once its wearer is off air."""
    wearer = s.wearers[act.wearer]
    used = wearer.wear is not None and not wearer.under_air and wearer.phase is not Phase.MOVED
    return None if used else f"{wearer.label} is not off air."


def why_not_clear(s: Situation, act: ClearDefect, _t: int) -> str | None:
    """Only what is noted."""
    return None if act.set_id in s.record.defects else f"No defect of set {act.set_id} is noted."


def why_not_report(s: Situation, act: ReportDefect, _t: int) -> str | None:
    """Only as many as are kept: a defect that is forgotten keeps no set out of use."""
    room = act.set_id in s.record.defects or len(s.record.defects) < DEFECTS_MAX
    return None if room else f"{DEFECTS_MAX} sets at fault are all there can be."


def why_not_use(s: Situation, act: JoinPack) -> str | None:
    """Why a set must not be checked in: somebody has noted a defect of it.

    What somebody breathes from already is noted all the same.
    """
    wearer = s.wearers[act.wearer]
    return None if wearer.under_air else _why_at_fault(s, wearer, act.set_id, act.pack)


def _why_at_fault(s: Situation, wearer: Wearer, set_id: str, pack: int | None) -> str | None:
    found = _fault(s, wearer, set_id, pack)
    if found is None:
        return None
    name, defect = found
    return f"Set {name} is at fault ({defect.text}): clear the defect first."


def _fault(
    s: Situation, wearer: Wearer, set_id: str, pack: int | None
) -> tuple[str, Defect] | None:
    """The defect of a set, by whatever name it was noted."""
    if not s.record.defects:
        return None
    names = {set_called(set_id, pack, wearer.label), f"pack {pack}"}
    return next(
        (
            (name, defect)
            for name, defect in s.record.defects.items()
            if name in names or (pack is not None and defect.pack == pack)
        ),
        None,
    )


# ---------------------------------------------------------------- views


def defect_of(s: Situation, wearer: Wearer) -> str:
    """What is at fault with this wearer's set; empty: nothing is noted."""
    found = _fault(s, wearer, wearer.set_id, wearer.pack)
    return found[1].text if found is not None else ""


def defect_views(s: Situation) -> tuple[DefectView, ...]:
    """Every set that is not to be used."""
    return tuple(
        DefectView(name, defect.text, s.now - defect.t, defect.by)
        for name, defect in s.record.defects.items()
    )


def cylinder_views(s: Situation) -> tuple[CylinderView, ...]:
    """Every cylinder that is to be filled."""
    return tuple(CylinderView(name, one.bar, one.wearer) for name, one in s.record.to_fill.items())


def after_use_views(s: Situation) -> tuple[AfterUseView, ...]:
    """What is still to be done with sets whose wearers are off air."""
    views = []
    for number, wearer in sorted(s.wearers.items()):
        if wearer.phase is Phase.OFF_AIR and "made ready" not in wearer.after:
            done = wearer.after | _seen(s.contact_of(wearer))
            views.append(AfterUseView(number, tuple(step for step in STEPS if step not in done)))
    return tuple(views)


def _seen(contact: Contact | None) -> set[AfterStep]:
    """Steps that the packets tell of."""
    seen: set[AfterStep] = set()
    if contact is None:
        return seen
    if contact.signed_off:
        seen.add("electronics off")
    if contact.pressure_dbar is not None and contact.pressure_dbar <= BLED_DBAR:
        seen |= {"valve closed", "bled"}
    return seen
