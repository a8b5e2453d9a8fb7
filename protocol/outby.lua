-- Wireshark dissector of the Outby packet format, version 1 (PACKET-FORMAT.md).
-- Made by protocol/dissector.py from the tables of the codec: change those, not this.
--
--   wireshark -X lua_script:outby.lua frames.pcapng
--
-- Display filters begin with "outby.": outby.kind == 3, outby.distress, outby.reason.

local outby = Proto("outby", "Outby breathing pack format")

local fields = {
  ["version"] = ProtoField.uint8("outby.version", "Version", base.DEC),
  ["kind"] = ProtoField.uint8("outby.kind", "Kind", base.DEC, {[1] = "sign-on", [2] = "status", [3] = "event", [4] = "sign-off", [5] = "receipt", [8] = "beacon", [9] = "order", [12] = "envelope", [13] = "beat"}),
  ["flags"] = ProtoField.uint8("outby.flags", "Flags", base.DEC),
  ["epoch"] = ProtoField.uint8("outby.epoch", "Epoch", base.DEC),
  ["identity"] = ProtoField.uint32("outby.identity", "Identity", base.HEX),
  ["boot"] = ProtoField.uint32("outby.boot", "Boot", base.DEC),
  ["sequence"] = ProtoField.uint32("outby.sequence", "Sequence", base.DEC),
  ["pressure"] = ProtoField.uint16("outby.pressure", "Pressure", base.DEC),
  ["gas temperature"] = ProtoField.int8("outby.gas_temperature", "Gas temperature", base.DEC),
  ["battery"] = ProtoField.uint8("outby.battery", "Battery", base.DEC),
  ["uptime"] = ProtoField.uint32("outby.uptime", "Uptime", base.DEC),
  ["beacon heard"] = ProtoField.uint32("outby.beacon_heard", "Beacon heard", base.HEX),
  ["order received"] = ProtoField.uint16("outby.order_received", "Order received", base.DEC),
  ["order acknowledged"] = ProtoField.uint16("outby.order_acknowledged", "Order acknowledged", base.DEC),
  ["motion"] = ProtoField.uint8("outby.motion", "Motion", base.DEC, {[0] = "unknown", [1] = "moving", [2] = "still", [3] = "pre-alarm", [4] = "alarm"}),
  ["alerts"] = ProtoField.uint8("outby.alerts", "Alerts", base.DEC),
  ["checks"] = ProtoField.uint8("outby.checks", "Checks", base.DEC),
  ["interval"] = ProtoField.uint8("outby.interval", "Interval", base.DEC),
  ["apparatus"] = ProtoField.uint8("outby.apparatus", "Apparatus", base.DEC, {[0] = "unknown", [1] = "open circuit", [2] = "closed circuit", [3] = "airline"}),
  ["rated pressure"] = ProtoField.uint16("outby.rated_pressure", "Rated pressure", base.DEC),
  ["water volume"] = ProtoField.uint16("outby.water_volume", "Water volume", base.DEC),
  ["low-air value"] = ProtoField.uint16("outby.low_air_value", "Low-air value", base.DEC),
  ["order"] = ProtoField.uint16("outby.order", "Order", base.DEC),
  ["answer"] = ProtoField.uint8("outby.answer", "Answer", base.DEC, {[1] = "received", [2] = "acknowledged", [3] = "coming out"}),
  ["value"] = ProtoField.uint32("outby.value", "Value", base.HEX),
  ["base"] = ProtoField.uint32("outby.base", "Base", base.HEX),
  ["what"] = ProtoField.uint8("outby.what", "What", base.DEC, {[1] = "evacuate", [2] = "come out", [3] = "roll call", [4] = "test", [5] = "distress confirmed", [6] = "coming out confirmed"}),
  ["signal"] = ProtoField.int8("outby.signal", "Signal", base.DEC),
  ["radio"] = ProtoField.uint32("outby.radio", "Radio", base.HEX),
  ["radio clock"] = ProtoField.uint32("outby.radio_clock", "Radio clock", base.DEC),
  ["frames heard"] = ProtoField.uint32("outby.frames_heard", "Frames heard", base.DEC),
  ["keyed"] = ProtoField.bool("outby.keyed", "keyed", 8, nil, 1),
  ["distress"] = ProtoField.bool("outby.distress", "distress", 8, nil, 1),
  ["low air"] = ProtoField.bool("outby.low_air", "low air", 8, nil, 2),
  ["coming out"] = ProtoField.bool("outby.coming_out", "coming out", 8, nil, 4),
  ["self-test"] = ProtoField.uint8("outby.self_test", "self-test", base.DEC, {[0] = "not run", [1] = "passed", [2] = "failed"}, 3),
  ["low-air warning test"] = ProtoField.uint8("outby.low_air_warning_test", "low-air warning test", base.DEC, {[0] = "not run", [1] = "passed", [2] = "failed"}, 12),
  ["motion warning test"] = ProtoField.uint8("outby.motion_warning_test", "motion warning test", base.DEC, {[0] = "not run", [1] = "passed", [2] = "failed"}, 48),
}
local layouts = {
  [1] = {fixed = 43, is_local = false, fields = {
    {name = "version", at = 0, size = 1},
    {name = "kind", at = 1, size = 1},
    {name = "flags", at = 2, size = 1},
    {name = "epoch", at = 3, size = 1},
    {name = "identity", at = 4, size = 4, low = 1, high = 4294967295, why = "IDENTITY"},
    {name = "boot", at = 8, size = 4, low = 1, high = 4294967295, why = "BOOT"},
    {name = "sequence", at = 12, size = 4, low = 1, high = 4294967295, why = "SEQUENCE"},
    {name = "pressure", at = 16, size = 2, scale = 0.1, unit = "bar", low = 0, high = 4500, why = "PRESSURE", unknown = 65535},
    {name = "gas temperature", at = 18, size = 1, scale = 1, unit = "C", signed = true, low = -60, high = 100, why = "TEMPERATURE", unknown = -128},
    {name = "battery", at = 19, size = 1, scale = 1, unit = "%", low = 0, high = 100, why = "BATTERY", unknown = 255},
    {name = "uptime", at = 20, size = 4, scale = 1, unit = "ms"},
    {name = "beacon heard", at = 24, size = 4},
    {name = "order received", at = 28, size = 2},
    {name = "order acknowledged", at = 30, size = 2},
    {name = "motion", at = 32, size = 1, low = 0, high = 4, why = "MOTION"},
    {name = "alerts", at = 33, size = 1},
    {name = "checks", at = 34, size = 1},
    {name = "interval", at = 35, size = 1, scale = 1, unit = "s", low = 1, high = 60, why = "INTERVAL"},
    {name = "apparatus", at = 36, size = 1, low = 0, high = 3, why = "APPARATUS"},
    {name = "rated pressure", at = 37, size = 2, scale = 0.1, unit = "bar", low = 1, high = 4500, why = "RATED_PRESSURE", unknown = 65535},
    {name = "water volume", at = 39, size = 2, scale = 0.01, unit = "L", low = 1, high = 3000, why = "WATER_VOLUME", unknown = 65535},
    {name = "low-air value", at = 41, size = 2, scale = 0.1, unit = "bar", low = 1, high = 4500, why = "LOW_AIR", unknown = 65535},
  }},
  [2] = {fixed = 36, is_local = false, fields = {
    {name = "version", at = 0, size = 1},
    {name = "kind", at = 1, size = 1},
    {name = "flags", at = 2, size = 1},
    {name = "epoch", at = 3, size = 1},
    {name = "identity", at = 4, size = 4, low = 1, high = 4294967295, why = "IDENTITY"},
    {name = "boot", at = 8, size = 4, low = 1, high = 4294967295, why = "BOOT"},
    {name = "sequence", at = 12, size = 4, low = 1, high = 4294967295, why = "SEQUENCE"},
    {name = "pressure", at = 16, size = 2, scale = 0.1, unit = "bar", low = 0, high = 4500, why = "PRESSURE", unknown = 65535},
    {name = "gas temperature", at = 18, size = 1, scale = 1, unit = "C", signed = true, low = -60, high = 100, why = "TEMPERATURE", unknown = -128},
    {name = "battery", at = 19, size = 1, scale = 1, unit = "%", low = 0, high = 100, why = "BATTERY", unknown = 255},
    {name = "uptime", at = 20, size = 4, scale = 1, unit = "ms"},
    {name = "beacon heard", at = 24, size = 4},
    {name = "order received", at = 28, size = 2},
    {name = "order acknowledged", at = 30, size = 2},
    {name = "motion", at = 32, size = 1, low = 0, high = 4, why = "MOTION"},
    {name = "alerts", at = 33, size = 1},
    {name = "checks", at = 34, size = 1},
    {name = "interval", at = 35, size = 1, scale = 1, unit = "s", low = 1, high = 60, why = "INTERVAL"},
  }},
  [3] = {fixed = 36, is_local = false, fields = {
    {name = "version", at = 0, size = 1},
    {name = "kind", at = 1, size = 1},
    {name = "flags", at = 2, size = 1},
    {name = "epoch", at = 3, size = 1},
    {name = "identity", at = 4, size = 4, low = 1, high = 4294967295, why = "IDENTITY"},
    {name = "boot", at = 8, size = 4, low = 1, high = 4294967295, why = "BOOT"},
    {name = "sequence", at = 12, size = 4, low = 1, high = 4294967295, why = "SEQUENCE"},
    {name = "pressure", at = 16, size = 2, scale = 0.1, unit = "bar", low = 0, high = 4500, why = "PRESSURE", unknown = 65535},
    {name = "gas temperature", at = 18, size = 1, scale = 1, unit = "C", signed = true, low = -60, high = 100, why = "TEMPERATURE", unknown = -128},
    {name = "battery", at = 19, size = 1, scale = 1, unit = "%", low = 0, high = 100, why = "BATTERY", unknown = 255},
    {name = "uptime", at = 20, size = 4, scale = 1, unit = "ms"},
    {name = "beacon heard", at = 24, size = 4},
    {name = "order received", at = 28, size = 2},
    {name = "order acknowledged", at = 30, size = 2},
    {name = "motion", at = 32, size = 1, low = 0, high = 4, why = "MOTION"},
    {name = "alerts", at = 33, size = 1},
    {name = "checks", at = 34, size = 1},
    {name = "interval", at = 35, size = 1, scale = 1, unit = "s", low = 1, high = 60, why = "INTERVAL"},
  }},
  [4] = {fixed = 36, is_local = false, fields = {
    {name = "version", at = 0, size = 1},
    {name = "kind", at = 1, size = 1},
    {name = "flags", at = 2, size = 1},
    {name = "epoch", at = 3, size = 1},
    {name = "identity", at = 4, size = 4, low = 1, high = 4294967295, why = "IDENTITY"},
    {name = "boot", at = 8, size = 4, low = 1, high = 4294967295, why = "BOOT"},
    {name = "sequence", at = 12, size = 4, low = 1, high = 4294967295, why = "SEQUENCE"},
    {name = "pressure", at = 16, size = 2, scale = 0.1, unit = "bar", low = 0, high = 4500, why = "PRESSURE", unknown = 65535},
    {name = "gas temperature", at = 18, size = 1, scale = 1, unit = "C", signed = true, low = -60, high = 100, why = "TEMPERATURE", unknown = -128},
    {name = "battery", at = 19, size = 1, scale = 1, unit = "%", low = 0, high = 100, why = "BATTERY", unknown = 255},
    {name = "uptime", at = 20, size = 4, scale = 1, unit = "ms"},
    {name = "beacon heard", at = 24, size = 4},
    {name = "order received", at = 28, size = 2},
    {name = "order acknowledged", at = 30, size = 2},
    {name = "motion", at = 32, size = 1, low = 0, high = 4, why = "MOTION"},
    {name = "alerts", at = 33, size = 1},
    {name = "checks", at = 34, size = 1},
    {name = "interval", at = 35, size = 1, scale = 1, unit = "s", low = 1, high = 60, why = "INTERVAL"},
  }},
  [5] = {fixed = 27, is_local = false, fields = {
    {name = "version", at = 0, size = 1},
    {name = "kind", at = 1, size = 1},
    {name = "flags", at = 2, size = 1},
    {name = "epoch", at = 3, size = 1},
    {name = "identity", at = 4, size = 4, low = 1, high = 4294967295, why = "IDENTITY"},
    {name = "boot", at = 8, size = 4, low = 1, high = 4294967295, why = "BOOT"},
    {name = "sequence", at = 12, size = 4, low = 1, high = 4294967295, why = "SEQUENCE"},
    {name = "uptime", at = 16, size = 4, scale = 1, unit = "ms"},
    {name = "beacon heard", at = 20, size = 4},
    {name = "order", at = 24, size = 2},
    {name = "answer", at = 26, size = 1, low = 1, high = 3, why = "ANSWER"},
  }},
  [8] = {fixed = 20, is_local = false, fields = {
    {name = "version", at = 0, size = 1},
    {name = "kind", at = 1, size = 1},
    {name = "flags", at = 2, size = 1},
    {name = "epoch", at = 3, size = 1},
    {name = "identity", at = 4, size = 4, low = 1, high = 4294967295, why = "IDENTITY"},
    {name = "boot", at = 8, size = 4, low = 1, high = 4294967295, why = "BOOT"},
    {name = "sequence", at = 12, size = 4, low = 1, high = 4294967295, why = "SEQUENCE"},
    {name = "value", at = 16, size = 4, low = 1, high = 4294967295, why = "BEACON"},
  }},
  [9] = {fixed = 23, is_local = false, fields = {
    {name = "version", at = 0, size = 1},
    {name = "kind", at = 1, size = 1},
    {name = "flags", at = 2, size = 1},
    {name = "epoch", at = 3, size = 1},
    {name = "identity", at = 4, size = 4, low = 1, high = 4294967295, why = "IDENTITY"},
    {name = "boot", at = 8, size = 4, low = 1, high = 4294967295, why = "BOOT"},
    {name = "sequence", at = 12, size = 4, low = 1, high = 4294967295, why = "SEQUENCE"},
    {name = "base", at = 16, size = 4, low = 1, high = 4294967295, why = "BASE"},
    {name = "order", at = 20, size = 2, low = 1, high = 65535, why = "ORDER"},
    {name = "what", at = 22, size = 1, low = 1, high = 6, why = "ORDER_KIND"},
  }},
  [12] = {fixed = 12, is_local = true, fields = {
    {name = "version", at = 0, size = 1},
    {name = "kind", at = 1, size = 1},
    {name = "flags", at = 2, size = 1},
    {name = "signal", at = 3, size = 1, scale = 1, unit = "dBm", signed = true, low = -127, high = 20, why = "SIGNAL", unknown = -128},
    {name = "radio", at = 4, size = 4, low = 1, high = 4294967295, why = "RADIO"},
    {name = "radio clock", at = 8, size = 4, scale = 1, unit = "ms"},
  }},
  [13] = {fixed = 16, is_local = true, fields = {
    {name = "version", at = 0, size = 1},
    {name = "kind", at = 1, size = 1},
    {name = "flags", at = 2, size = 1},
    {name = "signal", at = 3, size = 1, scale = 1, unit = "dBm", signed = true, low = -127, high = 20, why = "SIGNAL", unknown = -128},
    {name = "radio", at = 4, size = 4, low = 1, high = 4294967295, why = "RADIO"},
    {name = "radio clock", at = 8, size = 4, scale = 1, unit = "ms"},
    {name = "frames heard", at = 12, size = 4},
  }},
}
local words = {
  SHORT = "fewer bytes than the shortest frame",
  LONG = "more bytes than the longest frame",
  FRAMING = "the line framing cannot be undone",
  CHECKSUM = "checksum wrong: damaged on its way",
  VERSION = "a format version that is not known here",
  KIND = "a kind of frame that is not known here",
  FLAGS = "a flag that must be understood and is not",
  LENGTH = "length does not fit the kind",
  EXTRAS = "appended fields run over the end",
  NESTED = "a base radio's frame inside a base radio's envelope",
  EPOCH_UNKNOWN = "made with a fleet key that is not held here",
  NOT_KEYED = "an open frame, and this base asks for keyed ones",
  KEYED_UNREADABLE = "a keyed frame, and this base has no key",
  TAG = "authentication wrong: forged, or another fleet's key",
  DIRECTION = "a frame that travels the other way",
  OTHER_PACK = "meant for another pack",
  BUSY = "an identity never heard, not looked at: too many such at once",
  EPOCH = "key epoch out of range",
  IDENTITY = "identity is 0",
  BOOT = "boot counter is 0",
  SEQUENCE = "sequence number is 0",
  PRESSURE = "gauge pressure out of range",
  TEMPERATURE = "gas temperature out of range",
  BATTERY = "battery out of range",
  MOTION = "motion state not known",
  SELF_TEST = "self-test result not known",
  AIR_WARNING_TEST = "low-air warning test result not known",
  MOTION_WARNING_TEST = "motion warning test result not known",
  INTERVAL = "report interval out of range",
  APPARATUS = "kind of apparatus not known",
  RATED_PRESSURE = "rated pressure out of range",
  WATER_VOLUME = "water volume out of range",
  LOW_AIR = "low-air value out of range",
  ANSWER = "kind of answer not known",
  ORDER = "order number out of range",
  ORDER_KIND = "kind of order not known",
  BEACON = "beacon value is 0",
  BASE = "base identity is 0",
  RADIO = "radio identity is 0",
  SIGNAL = "signal level out of range",
}
local bits = {
  flags = {"keyed"},
  alerts = {"distress", "low air", "coming out"},
  checks = {"self-test", "low-air warning test", "motion warning test"},
}
local tests = {
  {shift = 0, why = "SELF_TEST"},
  {shift = 2, why = "AIR_WARNING_TEST"},
  {shift = 4, why = "MOTION_WARNING_TEST"},
}
local RESULT_MAX = 2
local VERSION, FLAG_KEYED, FLAGS_CRITICAL = 1, 1, 240
local FRAME_MIN, FRAME_MAX, PACK_FRAME_MAX = 15, 254, 240
local TAG_BYTES, CHECKSUM_BYTES = 8, 2
local ENVELOPE, BEAT, RECEIPT = 12, 13, 5
local COMING_OUT, I8_UNKNOWN = 3, -128
local UDP_PORT, UDP_PORT_EXERCISE = 41900, 41901
local names_of_kind = {[1] = "sign-on", [2] = "status", [3] = "event", [4] = "sign-off", [5] = "receipt", [8] = "beacon", [9] = "order", [12] = "envelope", [13] = "beat"}

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
