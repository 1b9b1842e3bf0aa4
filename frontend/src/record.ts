/** The microphone, where the browser gives it; says plainly where it does not. */

import { tell } from "./saying";

let recording: MediaRecorder | null = null;

/** Records until pressed again, and gives it as WAV: what browsers record themselves, few programs read. */
export async function record(button: HTMLElement, done: (file: File) => void): Promise<void> {
  if (recording) {
    recording.stop();
    return;
  }
  if (!navigator.mediaDevices?.getUserMedia || typeof MediaRecorder === "undefined") {
    tell("This address lets no page use the microphone. Record with the phone's own app and choose the file, or join over https.");
    return;
  }
  try {
    // Nothing that a phone does for voices: it would bend the tone.
    const plain = { echoCancellation: false, noiseSuppression: false, autoGainControl: false };
    const sound = await navigator.mediaDevices.getUserMedia({ audio: plain });
    const pieces: Blob[] = [];
    recording = new MediaRecorder(sound);
    recording.ondataavailable = (event) => pieces.push(event.data);
    recording.onstop = () => {
      const type = recording?.mimeType ?? "";
      recording = null;
      button.setAttribute("aria-pressed", "false");
      sound.getTracks().forEach((track) => track.stop());
      void waved(new Blob(pieces, { type })).then((wave) => {
        if (wave) done(new File([wave], `recording-${new Date().toISOString().slice(11, 19).replaceAll(":", "-")}.wav`, { type: "audio/wav" }));
        else tell("The recording could not be read by this browser. Record with another app and choose the file.");
      });
    };
    recording.start();
    button.setAttribute("aria-pressed", "true");
  } catch {
    tell("The microphone was not given. Choose a file instead.");
  }
}

/** A recording of the browser as mono WAV with 16 bits. */
async function waved(recorded: Blob): Promise<Blob | null> {
  try {
    const context = new AudioContext();
    const sound = await context.decodeAudioData(await recorded.arrayBuffer());
    void context.close();
    const samples = sound.getChannelData(0);
    const bytes = new DataView(new ArrayBuffer(44 + 2 * samples.length));
    const words = (at: number, text: string): void => [...text].forEach((sign, n) => bytes.setUint8(at + n, sign.charCodeAt(0)));
    words(0, "RIFF");
    bytes.setUint32(4, 36 + 2 * samples.length, true);
    words(8, "WAVEfmt ");
    bytes.setUint32(16, 16, true);
    bytes.setUint16(20, 1, true);
    bytes.setUint16(22, 1, true);
    bytes.setUint32(24, sound.sampleRate, true);
    bytes.setUint32(28, 2 * sound.sampleRate, true);
    bytes.setUint16(32, 2, true);
    bytes.setUint16(34, 16, true);
    words(36, "data");
    bytes.setUint32(40, 2 * samples.length, true);
    for (let n = 0; n < samples.length; n++) {
      bytes.setInt16(44 + 2 * n, Math.round(Math.max(-1, Math.min(1, samples[n]!)) * 32767), true);
    }
    return new Blob([bytes.buffer], { type: "audio/wav" });
  } catch {
    return null;
  }
}
