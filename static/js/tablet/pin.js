// Turns a PIN into a secret only this tablet can make again: PBKDF2 with a salt made here. Neither PIN nor
// secret is kept; what is kept says whether a secret is the right one.
import { sha256 } from "./hash.js";

const ROUNDS = 600_000; // the count OWASP's password storage sheet names for PBKDF2 with SHA-256
const SHAPE = /^\d{4,8}$/;
const hex = (bytes) => [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
const bytesOf = (text) => Uint8Array.from(text.match(/../g), (pair) => Number.parseInt(pair, 16));

// What is wrong with a new PIN; empty when nothing is.
export function pinProblem(pin) {
  if (!SHAPE.test(pin)) return "A PIN has 4 to 8 digits.";
  const isOne = new Set(pin).size === 1;
  const isRow = "01234567890".includes(pin) || "09876543210".includes(pin);
  return isOne || isRow ? "This PIN is the first somebody would try. Take another." : "";
}

export const newSalt = () => hex(crypto.getRandomValues(new Uint8Array(16)));

export async function secretOf(pin, salt) {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(pin), "PBKDF2", false, [
    "deriveBits",
  ]);
  const way = { name: "PBKDF2", hash: "SHA-256", salt: bytesOf(salt), iterations: ROUNDS };
  return hex(await crypto.subtle.deriveBits(way, key, 256));
}

export const verifierOf = (secret) => sha256(new TextEncoder().encode(`coachlight ${secret}`));
