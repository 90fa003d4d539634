"""From light to file: blur, a colour-filter sensor with its noise, development, JPEG."""

import io
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from needlewright.rehearsal.light import Picture

REHEARSED: Final = "rehearsed"
"""What the file says of what is in it (Exif 2.32, ImageDescription)."""
_FOCAL_35MM_TAG: Final = 0xA405
_EXIF_IFD: Final = 0x8769
_STEPS: Final = 65535


@dataclass(frozen=True, slots=True)
class Sensor:
    """The camera's behaviour in one picture."""

    exposure: float = 1.0
    """Picture value per unit of light."""
    electrons: float = 12_000.0
    """That make white: few when the light was amplified."""
    read_noise: float = 4.0
    """Standard deviation in electrons."""
    pattern: float = 0.006
    """Standard deviation of the pixels' gain, the same in every picture of one camera."""
    camera_seed: int = 0
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    """What the white balance left of the light's tint."""
    softness_px: float = 0.55
    """Standard deviation of the lens's and the pixel's own blur."""
    defocus_px: float = 0.0
    """Radius of the disc a point becomes."""
    motion_px: tuple[float, float] = (0.0, 0.0)
    """How far the picture moved during the exposure."""
    vignette: float = 0.12
    """Light lost in the corners."""
    denoise: float = 0.5
    """0 to 1: how much the camera smooths."""
    sharpen: float = 0.4
    contrast: float = 0.3
    """Of the S-curve on top of the sRGB curve."""
    jpeg_quality: int = 88
    exif_focal_35mm: int | None = None


def expose(light: Picture, sensor: Sensor, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Take a picture.

    Parameters
    ----------
    light
        Linear; changed in place.
    sensor
        How it is taken.
    rng
        Where noise comes from.

    Returns
    -------
    ndarray
        Height x width x 3, RGB.
    """
    seen = blurred(light, sensor)
    seen *= (_vignette(seen.shape[0], seen.shape[1], sensor.vignette) * sensor.exposure)[..., None]
    if sensor.balance != (1.0, 1.0, 1.0):
        seen *= np.array(sensor.balance, dtype=np.float32)
    mosaic = _with_noise(_mosaic(seen), sensor, rng)
    # OpenCV names the pattern by its second row and column: BG is red first
    raw = np.clip(mosaic * _STEPS, 0, _STEPS).astype(np.uint16)
    colours = np.asarray(cv2.cvtColor(raw, cv2.COLOR_BayerBG2RGB), dtype=np.uint16)
    return _developed(colours, sensor)


def blurred(light: Picture, sensor: Sensor) -> Picture:
    """Blur by the lens, by defocus and by motion; every kernel is symmetric about its pixel.

    Parameters
    ----------
    light
        Linear.
    sensor
        Its softness, defocus and motion.

    Returns
    -------
    ndarray
        Linear.
    """
    seen: Picture = light
    if sensor.softness_px > 0:
        seen = np.asarray(cv2.GaussianBlur(seen, (0, 0), sensor.softness_px))
    if sensor.defocus_px > 0.3:
        seen = np.asarray(cv2.filter2D(seen, -1, _disc(sensor.defocus_px)))
    if np.hypot(*sensor.motion_px) > 0.3:
        seen = np.asarray(cv2.filter2D(seen, -1, _streak(sensor.motion_px)))
    return seen


def to_jpeg(picture: NDArray[np.uint8], sensor: Sensor) -> bytes:
    """Code a picture as the camera's file.

    Parameters
    ----------
    picture
        Height x width x 3, RGB.
    sensor
        Its quality and, where it writes one, the focal length.

    Returns
    -------
    bytes
        A JPEG file that says of itself that it is no photo of a cluster.
    """
    coded = io.BytesIO()
    image = Image.fromarray(picture)
    exif = Image.Exif()
    exif[ExifTags.Base.ImageDescription] = REHEARSED
    if sensor.exif_focal_35mm is not None:
        exif.get_ifd(_EXIF_IFD)[_FOCAL_35MM_TAG] = sensor.exif_focal_35mm
    image.save(coded, "JPEG", quality=sensor.jpeg_quality, exif=exif)
    return coded.getvalue()


def _mosaic(seen: Picture) -> NDArray[np.float32]:
    mosaic = np.ascontiguousarray(seen[..., 1])
    mosaic[0::2, 0::2] = seen[0::2, 0::2, 0]
    mosaic[1::2, 1::2] = seen[1::2, 1::2, 2]
    return mosaic


def _with_noise(
    mosaic: NDArray[np.float32], sensor: Sensor, rng: np.random.Generator
) -> NDArray[np.float32]:
    """Photons (Gaussian at these counts), reading, and each pixel's own gain."""
    if sensor.pattern > 0:
        mosaic *= 1.0 + sensor.pattern * _gains(
            mosaic.shape[0], mosaic.shape[1], sensor.camera_seed
        )
    if not np.isfinite(sensor.electrons):
        return mosaic
    variance = np.maximum(mosaic, 0.0) / sensor.electrons
    variance += (sensor.read_noise / sensor.electrons) ** 2
    np.sqrt(variance, out=variance)
    variance *= rng.standard_normal(mosaic.shape, dtype=np.float32)
    return np.asarray(mosaic + variance, dtype=np.float32)


def _developed(raw: NDArray[np.uint16], sensor: Sensor) -> NDArray[np.uint8]:
    toned = np.asarray(_tone_curve(sensor.contrast)[raw])
    if sensor.denoise > 0:
        toned = _smoothed(toned, sensor.denoise)
    if sensor.sharpen > 0:
        low = cv2.GaussianBlur(toned, (0, 0), 1.2)
        sharp = cv2.addWeighted(toned, 1 + sensor.sharpen, low, -sensor.sharpen, 0.0)
        return np.asarray(sharp, dtype=np.uint8)
    return toned


def _smoothed(toned: NDArray[np.uint8], much: float) -> NDArray[np.uint8]:
    """Colour noise goes first, lightness keeps more of its detail."""
    parts = cv2.cvtColor(toned, cv2.COLOR_RGB2YCrCb)
    colour = cv2.GaussianBlur(parts[..., 1:], (0, 0), 0.4 + 2.2 * much)
    grey = np.ascontiguousarray(parts[..., 0])
    if much > 0.25:
        grey = np.asarray(cv2.GaussianBlur(grey, (0, 0), 0.25 + 0.6 * much))
    joined = np.dstack([grey, colour])
    return np.asarray(cv2.cvtColor(joined, cv2.COLOR_YCrCb2RGB), dtype=np.uint8)


@lru_cache(maxsize=16)
def _tone_curve(contrast: float) -> NDArray[np.uint8]:
    x = np.arange(_STEPS + 1) / _STEPS
    coded = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    bent = coded + contrast * 0.5 * (coded * coded * (3 - 2 * coded) - coded)
    return np.asarray(np.round(255 * np.clip(bent, 0, 1)), dtype=np.uint8)


@lru_cache(maxsize=4)
def _gains(high: int, wide: int, seed: int) -> NDArray[np.float32]:
    rng = np.random.default_rng([seed, 3])
    pixels = rng.standard_normal((high, wide), dtype=np.float32)
    columns = rng.standard_normal((1, wide), dtype=np.float32)
    return np.asarray(0.8 * pixels + 0.6 * columns)


@lru_cache(maxsize=4)
def _vignette(high: int, wide: int, loss: float) -> NDArray[np.float32]:
    x = (np.arange(wide, dtype=np.float32) - (wide - 1) / 2) / np.hypot(wide, high) * 2
    y = (np.arange(high, dtype=np.float32) - (high - 1) / 2) / np.hypot(wide, high) * 2
    return np.asarray(1.0 - np.float32(loss) * (x[None, :] ** 2 + y[:, None] ** 2))


def _disc(radius_px: float) -> NDArray[np.float32]:
    half = int(np.ceil(radius_px)) + 1
    at = np.arange(-half, half + 1)
    return _normed(np.clip(radius_px + 0.5 - np.hypot(at[:, None], at[None, :]), 0, 1))


def _streak(motion_px: tuple[float, float]) -> NDArray[np.float32]:
    length = float(np.hypot(*motion_px))
    dx, dy = motion_px[0] / length, motion_px[1] / length
    half = int(np.ceil(length / 2)) + 2
    at = np.arange(-half, half + 1)
    x, y = at[None, :], at[:, None]
    along, across = np.abs(x * dx + y * dy), np.abs(y * dx - x * dy)
    kernel = np.clip(length / 2 + 0.5 - along, 0, 1) * np.clip(1.0 - across, 0, 1)
    return _normed(kernel)


def _normed(kernel: NDArray[np.float64]) -> NDArray[np.float32]:
    return np.asarray(kernel / kernel.sum(), dtype=np.float32)
