"""Where a command leaves its overlays."""

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from needlewright.errors import UsageError


def overlay_files(folder: Path, photos: Sequence[str]) -> dict[str, Path]:
    """Name an overlay for each photo and make the folder.

    Parameters
    ----------
    folder
        Where overlays go.
    photos
        As given; photos of one name in several folders get the folder's name in front.

    Returns
    -------
    dict
        Photo as given to its overlay.

    Raises
    ------
    UsageError
        If the folder cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(
            f"--overlay {folder}: cannot be made a folder ({error.strerror}); name another"
        ) from error
    files: dict[str, Path] = {}
    stems = Counter(Path(photo).stem for photo in set(photos))
    taken: Counter[str] = Counter()
    for photo in dict.fromkeys(photos):
        path = Path(photo)
        stem = path.stem if stems[path.stem] == 1 else f"{path.resolve().parent.name}-{path.stem}"
        taken[stem] += 1
        number = "" if taken[stem] == 1 else f"-{taken[stem]}"
        files[photo] = folder / f"{stem}{number}.overlay.jpg"
    return files
