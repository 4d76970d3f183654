"""Plays MIDI messages with libfluidsynth and prints how much processor time that took.

In: a font; the interpolation (1 for straight lines, 4 for libfluidsynth's default of four points);
and a file of messages. Its first line, "RATE FROM TO", says which frames to measure. The other lines,
in order of time, are

    FRAME BYTES

with the bytes in hexadecimal. Reverberation and chorus are on, with at most 128 voices, on one core.
Out, in one line: the version, the voices that sound at the first measured frame, the seconds of
processor time from there on, and the highest sample of the last buffer. A buffer has 4096 frames, so
that the time that Python takes is negligible.
"""

import ctypes
import ctypes.util
import sys
import time

BUFFER = 4096
POLYPHONY = 128


def load_library():
    for name in (ctypes.util.find_library("fluidsynth"), "libfluidsynth.so.3"):
        if name:
            try:
                return ctypes.CDLL(name)
            except OSError:
                pass
    sys.exit("libfluidsynth is missing: run 'cargo xtask bench', which installs it")


def declare(library):
    pointer, number = ctypes.c_void_p, ctypes.c_int
    for name, result, arguments in (
        ("new_fluid_settings", pointer, []),
        ("new_fluid_synth", pointer, [pointer]),
        ("fluid_version_str", ctypes.c_char_p, []),
        ("fluid_settings_setnum", number, [pointer, ctypes.c_char_p, ctypes.c_double]),
        ("fluid_settings_setint", number, [pointer, ctypes.c_char_p, number]),
        ("fluid_synth_sfload", number, [pointer, ctypes.c_char_p, number]),
        ("fluid_synth_set_interp_method", number, [pointer, number, number]),
        ("fluid_synth_get_active_voice_count", number, [pointer]),
        ("fluid_synth_noteon", number, [pointer] + [number] * 3),
        ("fluid_synth_noteoff", number, [pointer] + [number] * 2),
        ("fluid_synth_key_pressure", number, [pointer] + [number] * 3),
        ("fluid_synth_cc", number, [pointer] + [number] * 3),
        ("fluid_synth_program_change", number, [pointer] + [number] * 2),
        ("fluid_synth_channel_pressure", number, [pointer] + [number] * 2),
        ("fluid_synth_pitch_bend", number, [pointer] + [number] * 2),
        (
            "fluid_synth_write_float",
            number,
            [pointer, number, pointer, number, number, pointer, number, number],
        ),
    ):
        function = getattr(library, name)
        function.restype, function.argtypes = result, arguments


class Player:
    """Plays messages and renders frames."""

    def __init__(self, library, font, interpolation, rate):
        self.library = library
        settings = library.new_fluid_settings()
        library.fluid_settings_setnum(settings, b"synth.sample-rate", float(rate))
        library.fluid_settings_setint(settings, b"synth.polyphony", POLYPHONY)
        library.fluid_settings_setint(settings, b"synth.cpu-cores", 1)
        library.fluid_settings_setint(settings, b"synth.reverb.active", 1)
        library.fluid_settings_setint(settings, b"synth.chorus.active", 1)
        self.synth = library.new_fluid_synth(settings)
        if library.fluid_synth_sfload(self.synth, font.encode(), 1) < 0:
            sys.exit("libfluidsynth cannot load " + font)
        library.fluid_synth_set_interp_method(self.synth, -1, interpolation)
        self.left, self.right = ((ctypes.c_float * BUFFER)() for _ in range(2))

    def send(self, message):
        library, synth = self.library, self.synth
        kind, channel, data = message[0] & 0xF0, message[0] & 15, message[1:]
        if kind == 0x80:
            library.fluid_synth_noteoff(synth, channel, data[0])
        elif kind == 0x90:
            library.fluid_synth_noteon(synth, channel, *data)
        elif kind == 0xA0:
            library.fluid_synth_key_pressure(synth, channel, *data)
        elif kind == 0xB0:
            library.fluid_synth_cc(synth, channel, *data)
        elif kind == 0xC0:
            library.fluid_synth_program_change(synth, channel, data[0])
        elif kind == 0xD0:
            library.fluid_synth_channel_pressure(synth, channel, data[0])
        elif kind == 0xE0:
            library.fluid_synth_pitch_bend(synth, channel, data[0] | data[1] << 7)

    def render(self, frames):
        left, right = self.left, self.right
        while frames > 0:
            count = min(frames, BUFFER)
            self.library.fluid_synth_write_float(self.synth, count, left, 0, 1, right, 0, 1)
            frames -= count

    def voices(self):
        return self.library.fluid_synth_get_active_voice_count(self.synth)

    def peak(self):
        return max(max(map(abs, self.left)), max(map(abs, self.right)))


def play(player, messages, at, to):
    for frame, message in messages:
        player.render(frame - at)
        at = frame
        player.send(message)
    player.render(to - at)


def main():
    font, interpolation, path = sys.argv[1:]
    with open(path, encoding="ascii") as file:
        rate, first, last = (int(word) for word in next(file).split())
        lines = [line.split() for line in file]
    messages = [(int(frame), bytes.fromhex(message)) for frame, message in lines]
    library = load_library()
    declare(library)
    player = Player(library, font, int(interpolation), rate)
    play(player, [one for one in messages if one[0] < first], 0, first)
    voices, begin = player.voices(), time.process_time()
    play(player, [one for one in messages if one[0] >= first], first, last)
    seconds = time.process_time() - begin
    print(library.fluid_version_str().decode(), voices, seconds, player.peak())


main()
