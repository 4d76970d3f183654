"""Says what a Standard MIDI File sends on each channel of each port, as mido reads it.

In: the path of a file. Out: a line for each message, in order of time, with ports and channels
counted from 1 and bytes in hexadecimal; messages of one tick are sorted. A controller that is set to
the value it has is left out, because no receiver hears that. Before its first move, it is at rest:
the state after "reset all controllers" (MIDI recommended practice RP-015).

    PORT CHANNEL TICK BYTES...
"""

import sys

import mido

# Modulation, expression and sustain, by controller number.
REST = {1: 0, 11: 127, 64: 0}


def kind_and_value(message):
    """What a message moves and to which value; None for notes and what has no rest or value."""
    match message.type:
        case "control_change":
            return message.control, message.value
        case "pitchwheel":
            return "bend", message.pitch
        case "program_change":
            return "program", message.program
        case "aftertouch":
            return "pressure", message.value
    return None


def events(path):
    """All channel messages with their ticks and ports, in playing order: at one tick by track."""
    found = []
    for track in mido.MidiFile(path).tracks:
        now, port = 0, 0
        for message in track:
            now += message.time
            if message.type == "midi_port":
                port = message.port
            elif not message.is_meta and hasattr(message, "channel"):
                found.append((now, port, message))
    return sorted(found, key=lambda event: event[0])


def lines_of(path):
    state, lines = {}, []
    for now, port, message in events(path):
        if moved := kind_and_value(message):
            kind, value = moved
            place = port, message.channel, kind
            rest = REST.get(kind, 0 if kind in ("bend", "pressure") else None)
            if state.get(place, rest) == value:
                continue
            state[place] = value
        lines.append((port + 1, message.channel + 1, now, message.hex()))
    return [" ".join(map(str, line)) for line in sorted(lines)]


if __name__ == "__main__":
    print("\n".join(lines_of(sys.argv[1])))
