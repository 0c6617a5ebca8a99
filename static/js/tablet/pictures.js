// How a picture is kept in the tablet's books: as its bytes. Some browsers refuse files there (WebKit in a
// tab that keeps nothing); rows written by an older app hold a file.

export async function packed({ blob, ...row }) {
  return { ...row, bytes: await blob.arrayBuffer(), mime: blob.type };
}

export const blobOf = (row) => row.blob ?? (row.bytes ? new Blob([row.bytes], { type: row.mime }) : null);
