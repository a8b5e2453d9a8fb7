"""One frame at a time: whether it is of the format."""

from protocol import codec
from protocol.fields import ALERT_COMING_OUT, ALERT_DISTRESS, ALERT_LOW_AIR, STATUS_BYTES_MAX
from protocol.integrity import Keyring, checksum_holds
from protocol.packets import Beat, Envelope, Kind, Receipt, Report, UpPacket
from protocol.rejects import Reject
from simulators.conformance.rules import Findings

MAKERS_TYPES = range(128, 256)
"""Of appended fields; the lower ones are for later editions of the format."""
FLAGS_AS_0 = 0x0E
ALERTS_AS_0 = 0xFF ^ (ALERT_DISTRESS | ALERT_LOW_AIR | ALERT_COMING_OUT)
CHECKS_AS_0 = 0xC0
FLAGS_AT, ALERTS_AT, CHECKS_AT = 2, 33, 34
RULE_OF: dict[Reject, str] = {
    **dict.fromkeys((Reject.SHORT, Reject.LONG, Reject.FRAMING, Reject.CHECKSUM), "checksum"),
    **dict.fromkeys((Reject.VERSION, Reject.KIND, Reject.LENGTH), "kind"),
    **dict.fromkeys((Reject.IDENTITY, Reject.BOOT, Reject.SEQUENCE), "header"),
    **dict.fromkeys(
        (Reject.EPOCH, Reject.EPOCH_UNKNOWN, Reject.NOT_KEYED, Reject.KEYED_UNREADABLE, Reject.TAG),
        "tag",
    ),
    **dict.fromkeys(
        (
            Reject.PRESSURE, Reject.TEMPERATURE, Reject.BATTERY, Reject.MOTION, Reject.SELF_TEST,
            Reject.AIR_WARNING_TEST, Reject.MOTION_WARNING_TEST, Reject.INTERVAL,
        ),
        "report",
    ),
    **dict.fromkeys(
        (Reject.APPARATUS, Reject.RATED_PRESSURE, Reject.WATER_VOLUME, Reject.LOW_AIR), "equipment"
    ),
    **dict.fromkeys((Reject.ANSWER, Reject.ORDER), "receipt"),
    **dict.fromkeys((Reject.NESTED, Reject.RADIO, Reject.SIGNAL), "radio"),
    Reject.FLAGS: "flags",
    Reject.EXTRAS: "appended",
    Reject.DIRECTION: "way",
}  # fmt: skip
"""Which rule a frame breaks that is refused for a reason."""


def judge(
    frame: bytes, keyring: Keyring | None, findings: Findings, at_ns: int
) -> tuple[UpPacket, bytes] | None:
    """Judge a frame as it came; give what a pack says in it, and its own bytes.

    None: it says nothing a base would take; or it is a base radio's own.
    """
    packet = codec.receive(frame, keyring)
    if isinstance(packet, Reject):
        # Too long and undamaged, it was made so: no noise is to blame.
        made_so = packet is Reject.LONG and checksum_holds(frame)
        findings.broken("kind" if made_so else RULE_OF[packet], at_ns, packet.words, frame)
        return None
    if isinstance(packet, Envelope | Beat):
        findings.kept("radio")
        return (
            judge(packet.frame, keyring, findings, at_ns) if isinstance(packet, Envelope) else None
        )
    assert isinstance(packet, Report | Receipt), "nothing else goes up"
    findings.kept("checksum", "kind", "way", "header", "tag")
    findings.judge("flags", at_ns, _set(frame[FLAGS_AT] & FLAGS_AS_0, "flags"), frame)
    if isinstance(packet, Receipt):
        findings.kept("receipt")
    else:
        _judge_report(packet, frame, findings, at_ns)
    return packet, frame


def _judge_report(packet: Report, frame: bytes, findings: Findings, at_ns: int) -> None:
    findings.kept("report")
    spare = _set(frame[ALERTS_AT] & ALERTS_AS_0, "alerts")
    findings.judge("bits", at_ns, spare or _set(frame[CHECKS_AT] & CHECKS_AS_0, "checks"), frame)
    if packet.kind is Kind.SIGN_ON:
        findings.kept("equipment")
    if packet.kind is Kind.STATUS:
        size = len(frame)
        findings.judge("size", at_ns, f"{size} bytes" if size > STATUS_BYTES_MAX else "", frame)
    for kind, _ in packet.extras:
        why = "" if kind in MAKERS_TYPES else f"appended type {kind} is not a maker's"
        findings.judge("appended", at_ns, why, frame)


def _set(bits: int, where: str) -> str:
    return f"{where}: {bits:#04x} is set" if bits else ""
