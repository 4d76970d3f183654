"""Reads a SoundFont with two independent libraries, and prints what they find.

In: the path of the file; then, for each note to render, PROGRAM:KEY with the program from 1.
Out: lines of words and numbers. sf2utils reads the structure:

    preset BANK PROGRAM NAME
    sample RATE ROOT START END LOOP_START LOOP_END NAME

and libfluidsynth renders notes of half a second without effects at 48 kHz. For the caller to measure,
each note is in a file beside the font, as 16-bit mono frames:

    rendered PROGRAM KEY FRAMES PATH
"""

import ctypes
import ctypes.util
import struct
import sys

from sf2utils.sf2parse import Sf2File

RATE = 48000
FRAMES = RATE // 2


def structure(path):
    with open(path, "rb") as file:
        font = Sf2File(file)
        for preset in font.presets:
            if preset.name != "EOP":
                print("preset", preset.bank, preset.preset, preset.name)
        for one in font.samples:
            if one.name != "EOS":
                print(
                    "sample",
                    one.sample_rate,
                    one.original_pitch,
                    one.start,
                    one.end,
                    one.start_loop,
                    one.end_loop,
                    one.name,
                )


def load_library():
    for name in (ctypes.util.find_library("fluidsynth"), "libfluidsynth.so.3"):
        if name:
            try:
                return ctypes.CDLL(name)
            except OSError:
                pass
    sys.exit("libfluidsynth is missing: run 'cargo xtask test', which installs it")


def player(library, path):
    pointer = ctypes.c_void_p
    library.new_fluid_settings.restype = pointer
    library.new_fluid_synth.restype = pointer
    library.new_fluid_synth.argtypes = [pointer]
    library.fluid_settings_setnum.argtypes = [pointer, ctypes.c_char_p, ctypes.c_double]
    library.fluid_settings_setint.argtypes = [pointer, ctypes.c_char_p, ctypes.c_int]
    library.fluid_synth_sfload.argtypes = [pointer, ctypes.c_char_p, ctypes.c_int]
    library.fluid_synth_program_change.argtypes = [pointer, ctypes.c_int, ctypes.c_int]
    library.fluid_synth_noteon.argtypes = [pointer] + [ctypes.c_int] * 3
    library.fluid_synth_system_reset.argtypes = [pointer]
    library.fluid_synth_write_s16.argtypes = [
        pointer,
        ctypes.c_int,
        pointer,
        ctypes.c_int,
        ctypes.c_int,
        pointer,
        ctypes.c_int,
        ctypes.c_int,
    ]
    settings = library.new_fluid_settings()
    library.fluid_settings_setnum(settings, b"synth.sample-rate", float(RATE))
    library.fluid_settings_setint(settings, b"synth.reverb.active", 0)
    library.fluid_settings_setint(settings, b"synth.chorus.active", 0)
    library.fluid_settings_setnum(settings, b"synth.gain", 1.0)
    synth = library.new_fluid_synth(settings)
    if library.fluid_synth_sfload(synth, path.encode(), 1) < 0:
        sys.exit("libfluidsynth cannot load " + path)
    return synth


def render(library, synth, program, key):
    library.fluid_synth_system_reset(synth)
    library.fluid_synth_program_change(synth, 0, program - 1)
    library.fluid_synth_noteon(synth, 0, key, 80)
    both = (ctypes.c_int16 * (2 * FRAMES))()
    library.fluid_synth_write_s16(synth, FRAMES, both, 0, 2, both, 1, 2)
    return [(left + right) // 2 for left, right in zip(both[0::2], both[1::2])]


def main():
    path = sys.argv[1]
    structure(path)
    library = load_library()
    synth = player(library, path)
    for note in sys.argv[2:]:
        program, key = (int(word) for word in note.split(":"))
        frames = render(library, synth, program, key)
        out = f"{path}.{program}.{key}.pcm"
        with open(out, "wb") as file:
            file.write(struct.pack(f"<{len(frames)}h", *frames))
        print("rendered", program, key, len(frames), out)


main()
