// The browser's camera: frames as JPEG with their times, the newest only.

import { text } from "./base.js";

const WIDTH = 1280;
const HEIGHT = 720;
const MOST_WIDTH = 1920;
const QUALITY = 0.92;
const WHY = {
  NotAllowedError: "denied",
  SecurityError: "denied",
  NotFoundError: "none_there",
  OverconstrainedError: "none_there",
  NotReadableError: "in_use",
  AbortError: "in_use",
};

// Asks for the camera; tells `failed(why)` once where there is none, or where it goes.
export async function browserCamera(failed) {
  if (!navigator.mediaDevices?.getUserMedia) {
    failed("no_cameras");
    return null;
  }
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({
      audio: false,
      video: {
        width: { ideal: WIDTH },
        height: { ideal: HEIGHT },
        facingMode: { ideal: "environment" },
      },
    });
  } catch (error) {
    failed(WHY[error.name] ?? "camera_failed", { why: error.name });
    return null;
  }
  const video = document.createElement("video");
  video.muted = true;
  video.playsInline = true;
  video.srcObject = stream;
  let isStopped = false;
  let framed = performance.now();
  const stop = () => {
    isStopped = true;
    for (const track of stream.getTracks()) track.stop();
    video.srcObject = null;
  };
  for (const track of stream.getVideoTracks()) {
    track.addEventListener("ended", () => {
      if (isStopped) return;
      failed("camera_gone");
      stop();
    });
  }
  try {
    await video.play();
  } catch (error) {
    if (!isStopped) failed("camera_failed", { why: error.name });
    stop();
    return null;
  }
  let put = null;
  const ask = () =>
    video.requestVideoFrameCallback
      ? video.requestVideoFrameCallback(next)
      : requestAnimationFrame(next);
  const next = (now) => {
    if (isStopped) return;
    ask();
    framed = performance.now();
    put({ seen: framed, t: now / 1000, grab: () => grab(video) });
  };
  return {
    stop,
    sinceFrame: () => performance.now() - framed,
    // Calls `wanted(frame)` with each new frame; `frame.grab()` gives its picture and its JPEG.
    each(wanted) {
      const isFirst = put === null;
      put = wanted;
      if (isFirst) ask();
    },
  };
}

const canvas = document.createElement("canvas");

// The frame as it stands now: a bitmap to draw needles on, and its JPEG.
async function grab(video) {
  const bitmap = await createImageBitmap(video);
  const share = Math.min(1, MOST_WIDTH / bitmap.width);
  canvas.width = Math.round(bitmap.width * share);
  canvas.height = Math.round(bitmap.height * share);
  canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
  if (!blob) throw new Error(text("live.camera_gone"));
  return { bitmap, blob };
}
