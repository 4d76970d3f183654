"""Says what Python's own wave module, a reader by others, finds in a WAV file.

In: the path of a file. Out: one line: channels, bytes of a sample, rate, frames, and the highest
and lowest sample.
"""

import array
import sys
import wave


def line_of(path):
    with wave.open(path, "rb") as file:
        samples = array.array("h")
        if file.getsampwidth() == 2:
            samples.frombytes(file.readframes(file.getnframes()))
            if sys.byteorder == "big":
                samples.byteswap()
        edges = f"{max(samples, default=0)} {min(samples, default=0)}"
        shape = f"{file.getnchannels()} {file.getsampwidth()} {file.getframerate()}"
        return f"{shape} {file.getnframes()} {edges}"


if __name__ == "__main__":
    print(line_of(sys.argv[1]))
