"""Video files as they come: uneven times, turned by a phone, ten bits, damaged, no video at all."""

from pathlib import Path

import av
import numpy as np
import pytest

from needlewright.errors import PictureError
from needlewright.readings.frame import frame_of_colours
from needlewright.readings.video import Video
from readings.drawn_clips import drawing, write_clip

UNEVEN_S = (0.0, 0.04, 0.12, 0.16, 0.3)


@pytest.fixture(scope="module")
def pictures():
    frame = drawing()
    return [(t, frame(t)) for t in UNEVEN_S]


def test_times_are_those_of_the_file(pictures, tmp_path: Path) -> None:
    with Video(write_clip(tmp_path / "v.mp4", pictures)) as video:
        assert [frame.t_s for frame in video.frames()] == pytest.approx(UNEVEN_S, abs=1e-3)
        assert video.damaged is None


def test_the_first_frame_is_at_zero_whenever_the_file_begins(pictures, tmp_path: Path) -> None:
    late = [(t + 7.5, picture) for t, picture in pictures]
    with Video(write_clip(tmp_path / "v.mkv", late)) as video:
        assert [frame.t_s for frame in video.ahead()] == pytest.approx(UNEVEN_S, abs=2e-3)


def test_planes_are_the_pictures_light_and_colour(pictures, tmp_path: Path) -> None:
    path = write_clip(tmp_path / "v.mp4", pictures)
    with Video(path) as video:
        frame = next(iter(video.frames())).frame
    drawn = frame_of_colours(np.ascontiguousarray(pictures[0][1][..., ::-1]))
    assert frame.light.shape == (426, 640)
    assert frame.red is not None
    assert frame.red.shape == (213, 320)
    # video keeps light in 16..235 and colour in 16..240 (ITU-R BT.601, clause 2.5.3; from memory)
    light = (frame.light.astype(float) - 16) * 255 / 219
    assert np.median(np.abs(light - drawn.light)) < 4
    assert drawn.red is not None
    red = (frame.red.astype(float) - 128) * 255 / 224
    assert np.median(np.abs(red - (drawn.red.astype(float) - 128))) < 3


@pytest.mark.parametrize("rotation", [90, 180, -90])
def test_a_turned_video_is_set_upright(pictures, tmp_path: Path, rotation: int) -> None:
    turned = [(t, np.rot90(picture, -rotation // 90)) for t, picture in pictures]
    with Video(write_clip(tmp_path / "v.mp4", turned, rotation=rotation)) as video:
        seen = next(iter(video.frames())).frame
    with Video(write_clip(tmp_path / "u.mp4", pictures)) as video:
        upright = next(iter(video.frames())).frame
    assert seen.light.shape == upright.light.shape == (426, 640)
    assert np.abs(seen.light.astype(float) - upright.light).mean() < 2
    assert seen.red is not None
    assert upright.red is not None
    assert np.abs(seen.red.astype(float) - upright.red).mean() < 2


def test_ten_bits_come_down_to_eight(pictures, tmp_path: Path) -> None:
    if "hevc" not in av.codecs_available or "libx265" not in av.codecs_available:
        pytest.skip("this PyAV has no HEVC")
    path = write_clip(tmp_path / "v.mp4", pictures, codec="libx265", pixels="yuv420p10le")
    with Video(path) as video, Video(write_clip(tmp_path / "e.mp4", pictures)) as eight:
        ten_bits, eight_bits = (next(iter(v.frames())).frame for v in (video, eight))
    assert ten_bits.light.dtype == np.uint8
    assert np.abs(ten_bits.light.astype(float) - eight_bits.light).mean() < 2


def test_grey_video_has_light_alone(pictures, tmp_path: Path) -> None:
    path = write_clip(tmp_path / "v.mkv", pictures, codec="ffv1", pixels="gray")
    with Video(path) as video:
        frame = next(iter(video.frames())).frame
    assert frame.red is None
    assert frame.light.shape == (426, 640)


def test_what_is_before_the_damage_is_given(pictures, tmp_path: Path) -> None:
    path = write_clip(tmp_path / "v.mkv", pictures * 1, codec="ffv1", pixels="yuv420p")
    whole = path.read_bytes()
    path.write_bytes(whole[: int(0.7 * len(whole))])
    with Video(path) as video:
        frames = list(video.ahead())
    assert 1 <= len(frames) < len(UNEVEN_S)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is not a video that can be opened; save it as MP4"),
        (b"not a video at all" * 100, "is not a video that can be opened"),
    ],
)
def test_what_is_no_video_is_named(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "v.mp4"
    path.write_bytes(content)
    with pytest.raises(PictureError, match=says):
        Video(path)


def test_a_file_that_is_not_there_and_a_folder_are_named(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match="there is no such file"):
        Video(tmp_path / "v.mp4")
    with pytest.raises(PictureError, match="is a folder"):
        Video(tmp_path)


def test_sound_alone_is_no_video(tmp_path: Path) -> None:
    path = tmp_path / "sound.wav"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("pcm_s16le", rate=8000, layout="mono")
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 800), np.int16), "s16", "mono")
        frame.sample_rate = 8000
        container.mux(stream.encode(frame))
    with pytest.raises(PictureError, match="has no moving picture"):
        Video(path)


def test_a_video_without_frames_is_named(tmp_path: Path) -> None:
    path = tmp_path / "v.mkv"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("ffv1", rate=25)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        container.start_encoding()
    with pytest.raises(PictureError, match=r"not one frame|is not a video"), Video(path) as video:
        list(video.ahead())
