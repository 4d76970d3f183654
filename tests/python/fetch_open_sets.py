"""Fetches MIDI files that other projects publish with their packages.

In: a folder. Out: the .mid files of each package, in a subfolder per package. Their licences differ,
and some do not allow distribution, so the files are for tests on this machine only.
"""

import subprocess
import sys
import tarfile
import tempfile
import zipfile
from pathlib import Path

# Package, version, and the kind of archive that has the files: 's' for the source, 'w' for a wheel.
PACKAGES = [
    ("miditok", "3.1.0", "s"),
    ("symusic", "0.6.0", "s"),
    ("music21", "10.5.1", "w"),
    ("miditoolkit", "1.0.1", "w"),
    ("partitura", "1.9.0", "w"),
]


def download(name, version, form, folder):
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
    command += ["--disable-pip-version-check", "--dest", folder]
    if form == "s":
        command += ["--no-binary", name]
    subprocess.run(command + [f"{name}=={version}"], check=True)
    return next(Path(folder).iterdir())


def members(archive):
    """The names and bytes of the MIDI files in an archive."""
    if archive.suffix == ".whl":
        with zipfile.ZipFile(archive) as file:
            for name in file.namelist():
                if name.endswith(".mid"):
                    yield name, file.read(name)
    else:
        with tarfile.open(archive) as file:
            for member in file:
                if member.isfile() and member.name.endswith(".mid"):
                    yield member.name, file.extractfile(member).read()


def main(home):
    for name, version, form in PACKAGES:
        target = home / f"{name}-{version}"
        if target.is_dir():
            continue
        with tempfile.TemporaryDirectory() as folder:
            found = list(members(download(name, version, form, folder)))
        part = home / f"{name}.part"
        part.mkdir(parents=True, exist_ok=True)
        for number, (path, data) in enumerate(sorted(found), start=1):
            (part / f"{number:03} {Path(path).name}").write_bytes(data)
        part.rename(target)
        print(f"{name} {version}: {len(found)} files")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
