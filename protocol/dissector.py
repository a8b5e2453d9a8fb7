"""Writes the Wireshark dissector of the packet format, from the same tables as the codec.

``outby.lua`` beside this file is what ``lua()`` gives; a test holds the two together. Wireshark
and tshark load it as it is::

    tshark -X lua_script:outby.lua -r frames.pcapng

It takes frames in captures of link type USER0 (147), which is what ``outby export --frames``
writes, and datagrams at the port of the format. It needs no key, so it says nothing of a tag but
its bytes; every other reason for which ``codec.decode`` refuses a frame it finds too.
"""

from enum import IntEnum

from protocol import fields as f
from protocol.naming import words
from protocol.packets import Apparatus, CheckResult, Kind, Motion, OrderKind, ReceiptKind
from protocol.rejects import Reject

UDP_PORT, UDP_PORT_EXERCISE = 41900, 41901
"""Where a base listens unless told otherwise."""

_NAMED: dict[str, type[IntEnum]] = {
    "kind": Kind,
    "motion": Motion,
    "apparatus": Apparatus,
    "answer": ReceiptKind,
    "what": OrderKind,
}
_HEX = frozenset({"identity", "beacon heard", "value", "base", "radio"})
"""Identities and random numbers are read as hex."""
_BITS: dict[str, tuple[tuple[str, int], ...]] = {
    "flags": (("keyed", f.FLAG_KEYED),),
    "alerts": (
        ("distress", f.ALERT_DISTRESS),
        ("low air", f.ALERT_LOW_AIR),
        ("coming out", f.ALERT_COMING_OUT),
    ),
}
_TESTS = (
    ("self-test", f.SELF_TEST_SHIFT, Reject.SELF_TEST),
    ("low-air warning test", f.AIR_WARNING_TEST_SHIFT, Reject.AIR_WARNING_TEST),
    ("motion warning test", f.MOTION_WARNING_TEST_SHIFT, Reject.MOTION_WARNING_TEST),
)
_CONSTANTS = f"{f.VERSION}, {f.FLAG_KEYED}, {f.FLAGS_CRITICAL}"
_LENGTHS = f"{f.FRAME_BYTES_MIN}, {f.FRAME_BYTES_MAX}, {f.PACK_FRAME_BYTES_MAX}"
_OWN_RULES = frozenset({"version", "kind", "flags", "epoch", "checks"})
"""Fields whose range the code below looks at itself, since it is not one range."""


def filter_name(name: str) -> str:
    """What a field is called in a display filter: ``outby.gas_temperature``."""
    return "outby." + name.replace(" ", "_").replace("-", "_")


def lua() -> str:
    """The whole script."""
    parts = [_HEAD, _fields(), _layouts(), _reasons(), _CODE]
    return "\n".join(parts)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _names(kind: type[IntEnum]) -> str:
    return "{" + ", ".join(f"[{int(m)}] = {_quoted(words(m))}" for m in kind) + "}"


def _proto_field(field: f.Field) -> str:
    signed = "int" if field.code == "b" else "uint"
    base = "base.HEX" if field.name in _HEX else "base.DEC"
    named = f", {_names(_NAMED[field.name])}" if field.name in _NAMED else ""
    label = _quoted(field.name[0].upper() + field.name[1:])
    made = f"ProtoField.{signed}{8 * field.size}"
    return f"{made}({_quoted(filter_name(field.name))}, {label}, {base}{named})"


def _fields() -> str:
    """Every field once, by name: a name means the same wherever it stands."""
    lines = ["local fields = {"]
    seen: set[str] = set()
    for layout in f.FIELDS_BY_KIND.values():
        for field in layout:
            if field.name not in seen:
                seen.add(field.name)
                lines.append(f"  [{_quoted(field.name)}] = {_proto_field(field)},")
    for parent in _BITS.values():
        for name, mask in parent:
            made = f"ProtoField.bool({_quoted(filter_name(name))}, {_quoted(name)}, 8, nil, {mask})"
            lines.append(f"  [{_quoted(name)}] = {made},")
    for name, shift, _ in _TESTS:
        of = f"base.DEC, {_names(CheckResult)}, {0b11 << shift}"
        made = f"ProtoField.uint8({_quoted(filter_name(name))}, {_quoted(name)}, {of})"
        lines.append(f"  [{_quoted(name)}] = {made},")
    return "\n".join([*lines, "}"])


def _layouts() -> str:
    """What stands where, by kind."""
    lines = ["local layouts = {"]
    for kind, layout in f.FIELDS_BY_KIND.items():
        is_local = "true" if layout[: len(f.LOCAL)] == f.LOCAL else "false"
        size = f.FIXED_BYTES[kind]
        lines.append(f"  [{int(kind)}] = {{fixed = {size}, is_local = {is_local}, fields = {{")
        lines += [f"    {{{_row(field)}}}," for field in layout]
        lines.append("  }},")
    return "\n".join([*lines, "}"])


def _row(field: f.Field) -> str:
    unit = field.unit.split(" ")
    scale, name = (unit[0], unit[1]) if len(unit) > 1 else ("1", "")
    cells = [f"name = {_quoted(field.name)}", f"at = {field.offset}", f"size = {field.size}"]
    if name:
        cells += [f"scale = {scale}", f"unit = {_quoted(name)}"]
    if field.code == "b":
        cells.append("signed = true")
    if field.reject is not None and field.name not in _OWN_RULES:
        cells += [
            f"low = {field.low}",
            f"high = {field.high}",
            f"why = {_quoted(field.reject.name)}",
        ]
    if field.unknown is not None:
        cells.append(f"unknown = {field.unknown}")
    return ", ".join(cells)


def _reasons() -> str:
    """The words of each reason that needs no key."""
    lines = ["local words = {"]
    lines += [f"  {why.name} = {_quoted(why.words)}," for why in Reject if why <= Reject.SIGNAL]
    lines += ["}", "local bits = {"]
    for parent, parts in _BITS.items():
        lines.append(f"  {parent} = {{{', '.join(_quoted(name) for name, _ in parts)}}},")
    lines.append(f"  checks = {{{', '.join(_quoted(name) for name, _, _ in _TESTS)}}},")
    lines += ["}", "local tests = {"]
    lines += [f"  {{shift = {shift}, why = {_quoted(why.name)}}}," for _, shift, why in _TESTS]
    return "\n".join(
        [
            *lines,
            "}",
            f"local RESULT_MAX = {int(max(CheckResult))}",
            f"local VERSION, FLAG_KEYED, FLAGS_CRITICAL = {_CONSTANTS}",
            f"local FRAME_MIN, FRAME_MAX, PACK_FRAME_MAX = {_LENGTHS}",
            f"local TAG_BYTES, CHECKSUM_BYTES = {f.TAG_BYTES}, {f.CHECKSUM_BYTES}",
            f"local ENVELOPE, BEAT, RECEIPT = {Kind.ENVELOPE:d}, {Kind.BEAT:d}, {Kind.RECEIPT:d}",
            f"local COMING_OUT, I8_UNKNOWN = {ReceiptKind.COMING_OUT:d}, {f.I8_UNKNOWN}",
            f"local UDP_PORT, UDP_PORT_EXERCISE = {UDP_PORT}, {UDP_PORT_EXERCISE}",
            f"local names_of_kind = {_names(Kind)}",
            "",
        ]
    )


_HEAD = """\
-- Wireshark dissector of the Outby packet format, version 1 (PACKET-FORMAT.md).
-- Made by protocol/dissector.py from the tables of the codec: change those, not this.
--
--   wireshark -X lua_script:outby.lua frames.pcapng
--
-- Display filters begin with "outby.": outby.kind == 3, outby.distress, outby.reason.

local outby = Proto("outby", "Outby breathing pack format")
"""

_CODE = """\
local extra_type = ProtoField.uint8("outby.extra.type", "Type", base.DEC)
local extra_value = ProtoField.bytes("outby.extra.value", "Value")
local tag = ProtoField.bytes("outby.tag", "Tag")
local checksum = ProtoField.uint16("outby.checksum", "Checksum", base.HEX)
local reason = ProtoField.string("outby.reason", "Reason for which a base refuses it")
local not_right = ProtoExpert.new(
  "outby.not_right", "A base refuses this frame", expert.group.PROTOCOL, expert.severity.WARN)

local all = {extra_type, extra_value, tag, checksum, reason}
for _, field in pairs(fields) do
  all[#all + 1] = field
end
outby.fields = all
outby.experts = {not_right}

local bit = bit or bit32 or require("bit")

-- CRC-16/IBM-3740; carried on over the checksum itself it comes to 0.
local function crc(range)
  local bytes, value = range:bytes(), 0xFFFF
  for i = 0, bytes:len() - 1 do
    value = bit.bxor(value, bit.lshift(bytes:get_index(i), 8))
    for _ = 1, 8 do
      local high = bit.band(value, 0x8000) ~= 0
      value = bit.band(bit.lshift(value, 1), 0xFFFF)
      if high then
        value = bit.bxor(value, 0x1021)
      end
    end
  end
  return value
end

local function refuse(tree, why)
  tree:add(reason, why):set_generated()
  tree:add_proto_expert_info(not_right, why .. ": " .. words[why])
end

local function shown(row, value)
  if value == row.unknown then
    return " (unknown)"
  end
  if not row.unit then
    return ""
  end
  if row.scale == 1 then
    return " " .. row.unit
  end
  local digits = row.scale < 0.1 and 2 or 1
  return string.format(" (%." .. digits .. "f %s)", value * row.scale, row.unit)
end

local function in_range(row, value)
  return value == row.unknown or (value >= row.low and value <= row.high)
end

local function add_parts(tree, row, range, value)
  for _, name in ipairs(bits[row.name] or {}) do
    tree:add(fields[name], range)
  end
  if row.name == "checks" then
    for _, test in ipairs(tests) do
      if bit.band(bit.rshift(value, test.shift), 3) > RESULT_MAX then
        refuse(tree, test.why)
      end
    end
  end
end

-- Every field of the fixed part; gives their values by name.
local function add_fixed(tree, layout, kind, frame)
  local values = {}
  for _, row in ipairs(layout.fields) do
    local range = frame(row.at, row.size)
    local value = row.signed and range:int() or range:uint()
    local item = tree:add(fields[row.name], range)
    item:append_text(shown(row, value))
    values[row.name] = value
    add_parts(item, row, range, value)
    if row.why and not in_range(row, value) then
      refuse(item, row.why)
    end
  end
  if kind == RECEIPT and values["order"] == 0 and values["answer"] ~= COMING_OUT then
    refuse(tree, "ORDER")
  elseif kind == BEAT and values["signal"] ~= I8_UNKNOWN then
    refuse(tree, "SIGNAL")
  end
  return values
end

local function add_extras(tree, frame, start, stop)
  while start < stop do
    if stop - start < 2 or stop - start - 2 < frame(start + 1, 1):uint() then
      refuse(tree, "EXTRAS")
      return
    end
    local size = frame(start + 1, 1):uint()
    local item = tree:add(outby, frame(start, size + 2), "Appended field")
    item:add(extra_type, frame(start, 1))
    if size > 0 then
      item:add(extra_value, frame(start + 2, size))
    end
    start = start + 2 + size
  end
end

-- Where the fixed part and what is appended to it end, flags and lengths being right.
local function body_end(tree, layout, frame)
  local size, flags, epoch = frame:len(), frame(2, 1):uint(), frame(3, 1):uint()
  local keyed = bit.band(flags, FLAG_KEYED) ~= 0
  local stop = size - CHECKSUM_BYTES
  if bit.band(flags, FLAGS_CRITICAL) ~= 0 or (layout.is_local and keyed) then
    refuse(tree, "FLAGS")
    return nil
  end
  if not layout.is_local then
    if size > PACK_FRAME_MAX then
      refuse(tree, "LONG")
    end
    if keyed ~= (epoch ~= 0) then
      refuse(tree, "EPOCH")
    end
    if keyed then
      stop = stop - TAG_BYTES
    end
  end
  if stop < layout.fixed then
    refuse(tree, "LENGTH")
    return nil
  end
  return stop
end

local function title(layout, kind, values)
  local name = names_of_kind[kind]
  if layout.is_local then
    return string.format("%s, radio 0x%08X", name, values["radio"])
  end
  return string.format("%s, 0x%08X, boot %d, sequence %d",
    name, values["identity"], values["boot"], values["sequence"])
end

local dissect

local function add_body(tree, layout, kind, frame, stop, info)
  local values = add_fixed(tree, layout, kind, frame)
  info[#info + 1] = title(layout, kind, values)
  if kind == ENVELOPE then
    local inner = frame(layout.fixed, stop - layout.fixed):tvb()
    if inner:len() > 1 and (inner(1, 1):uint() == ENVELOPE or inner(1, 1):uint() == BEAT) then
      refuse(tree, "NESTED")
    elseif inner:len() > 0 then
      dissect(tree:add(outby, inner(), "Frame as heard"), inner, info)
    end
    return
  end
  add_extras(tree, frame, layout.fixed, stop)
  if stop < frame:len() - CHECKSUM_BYTES then
    tree:add(tag, frame(stop, TAG_BYTES))
  end
end

dissect = function(tree, frame, info)
  local size = frame:len()
  if size < FRAME_MIN or size > FRAME_MAX then
    refuse(tree, size < FRAME_MIN and "SHORT" or "LONG")
    return
  end
  local right = crc(frame()) == 0
  if not right then
    refuse(tree, "CHECKSUM")
  end
  local layout = layouts[frame(1, 1):uint()]
  if frame(0, 1):uint() ~= VERSION or layout == nil then
    refuse(tree, frame(0, 1):uint() ~= VERSION and "VERSION" or "KIND")
    return
  end
  local stop = body_end(tree, layout, frame)
  if stop then
    add_body(tree, layout, frame(1, 1):uint(), frame, stop, info)
  end
  local item = tree:add(checksum, frame(size - CHECKSUM_BYTES, CHECKSUM_BYTES))
  item:append_text(right and " (right)" or " (wrong)")
end

function outby.dissector(frame, packet, tree)
  packet.cols.protocol = "Outby"
  local info = {}
  dissect(tree:add(outby, frame()), frame, info)
  packet.cols.info = #info > 0 and table.concat(info, " | ") or "not a frame of this format"
  return frame:len()
end

DissectorTable.get("wtap_encap"):add(wtap.USER0, outby)
DissectorTable.get("udp.port"):add(UDP_PORT, outby)
DissectorTable.get("udp.port"):add(UDP_PORT_EXERCISE, outby)
"""
