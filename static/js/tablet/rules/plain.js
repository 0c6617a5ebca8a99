// A text as it is compared: without blanks, in small letters.
export const plain = (value) => String(value).replace(/\s+/g, "").toLowerCase();
