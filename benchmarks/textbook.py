"""A plain textbook reader, for comparison only: nothing in it comes from the project's reader.

Register the photo to the face art by SIFT features and one homography, unroll each dial about its
printed centre, and take the strongest radial line through that centre. It knows the same family as
the project's reader does, knows nothing of parallax or lens distortion, and states no uncertainty.
"""

from pathlib import Path

import cv2
import numpy as np

from needlewright.families.model import Dial, Family

PX_PER_MM = 6.0
STEP_DEG = 0.1
RADII = 240
MIN_INLIERS = 15
RATIO = 0.75
REPROJECTION_PX = 3.0


class TextbookReader:
    """SIFT, homography, polar unroll, strongest radial line."""

    def __init__(self, family: Family) -> None:
        self.family = family
        art = cv2.imread(str(family.face_path), cv2.IMREAD_COLOR)
        scale = PX_PER_MM / family.px_per_mm
        self.art = cv2.resize(art, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        self.sift = cv2.SIFT_create(4000)
        self.keys, self.features = self.sift.detectAndCompute(_grey(self.art), None)

    def read(self, path: Path) -> dict[str, float | None]:
        """Angle of each needle in degrees on its scale's branch, or None where none was found."""
        photo = cv2.imread(str(path), cv2.IMREAD_COLOR)
        homography = self._register(photo)
        if homography is None:
            return {dial.id: None for dial in self.family.dials}
        height, width = self.art.shape[:2]
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        flat = cv2.warpPerspective(photo, homography, (width, height), flags=flags)
        inside = cv2.warpPerspective(
            np.full(photo.shape[:2], 255, np.uint8), homography, (width, height), flags=flags
        )
        return {dial.id: self._dial(dial, flat, inside) for dial in self.family.dials}

    def _register(self, photo: np.ndarray) -> np.ndarray | None:
        """Homography from the art to the photo."""
        keys, features = self.sift.detectAndCompute(_grey(photo), None)
        if features is None or len(features) < MIN_INLIERS:
            return None
        pairs = cv2.BFMatcher().knnMatch(self.features, features, k=2)
        good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < RATIO * p[1].distance]
        if len(good) < MIN_INLIERS:
            return None
        source = np.float32([self.keys[m.queryIdx].pt for m in good])
        target = np.float32([keys[m.trainIdx].pt for m in good])
        cv2.setRNGSeed(1)
        homography, inliers = cv2.findHomography(source, target, cv2.RANSAC, REPROJECTION_PX)
        if homography is None or int(inliers.sum()) < MIN_INLIERS:
            return None
        return homography

    def _dial(self, dial: Dial, flat: np.ndarray, inside: np.ndarray) -> float | None:
        needle = dial.needle
        radii_mm = np.linspace(needle.hub_radius_mm * 1.15, needle.length_mm * 0.97, RADII)
        low, high = sorted((dial.scale.angles_deg[0], dial.scale.angles_deg[-1]))
        angles_deg = np.arange(low - 15.0, high + 15.0, STEP_DEG)
        columns, rows = _polar_grid(dial, angles_deg, radii_mm)
        seen = cv2.remap(inside, columns, rows, cv2.INTER_NEAREST)
        if (seen == 0).mean() > 0.25:
            return None
        photo = cv2.remap(flat, columns, rows, cv2.INTER_LINEAR).astype(np.float32)
        art = cv2.remap(self.art, columns, rows, cv2.INTER_LINEAR).astype(np.float32)
        evidence = _difference(photo, art) + _colour(photo, needle.colour)
        profile = evidence.mean(axis=1)
        width = max(3, round(np.degrees(needle.width_at(radii_mm.mean()) / radii_mm.mean()) / 0.1))
        profile = cv2.GaussianBlur(profile[:, None], (1, 4 * width + 1), 0, sigmaY=width / 2)
        return float(np.interp(_peak(profile[:, 0]), np.arange(len(angles_deg)), angles_deg))


def _grey(picture: np.ndarray) -> np.ndarray:
    return cv2.createCLAHE(2.0, (8, 8)).apply(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))


def _polar_grid(
    dial: Dial, angles_deg: np.ndarray, radii_mm: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    angles = np.radians(angles_deg)[:, None]
    x = dial.centre_mm[0] + radii_mm * np.sin(angles)
    y = dial.centre_mm[1] - radii_mm * np.cos(angles)
    return (x * PX_PER_MM - 0.5).astype(np.float32), (y * PX_PER_MM - 0.5).astype(np.float32)


def _difference(photo: np.ndarray, art: np.ndarray) -> np.ndarray:
    """Departure from the bare face after one gain and offset, in its own standard deviations."""
    total = np.zeros(photo.shape[:2], np.float32)
    for channel in range(3):
        a, p = art[:, :, channel], photo[:, :, channel]
        gain = ((a - a.mean()) * (p - p.mean())).mean() / (a.var() + 1.0)
        total += np.abs(p - p.mean() - gain * (a - a.mean()))
    return total / (total.std() + 1e-6)


def _colour(photo: np.ndarray, colour: tuple[float, float, float] | None) -> np.ndarray:
    """Likeness in hue and saturation to the needle's stated colour, in standard deviations."""
    if colour is None:
        return np.zeros(photo.shape[:2], np.float32)
    stated = np.float32([[colour[::-1]]])
    wanted = cv2.cvtColor(stated, cv2.COLOR_BGR2Lab)[0, 0, 1:]
    lab = cv2.cvtColor(photo / np.float32(255.0), cv2.COLOR_BGR2Lab)[:, :, 1:]
    chroma = float(np.linalg.norm(wanted))
    if chroma < 15:  # a white needle has no hue to look for
        return np.zeros(photo.shape[:2], np.float32)
    likeness = np.clip(lab @ (wanted / chroma), 0, None)
    return likeness / (likeness.std() + 1e-6)


def _peak(profile: np.ndarray) -> float:
    """Place of the highest value, by a parabola through it and its neighbours."""
    i = int(np.clip(np.argmax(profile), 1, len(profile) - 2))
    left, middle, right = profile[i - 1], profile[i], profile[i + 1]
    bend = left - 2 * middle + right
    return i + (0.5 * (left - right) / bend if bend < 0 else 0.0)
