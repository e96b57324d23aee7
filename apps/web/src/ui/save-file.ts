/** A file as the server makes it for one reader. */
export interface MadeFile {
  readonly fileName: string;
  readonly base64: string;
}

const types: Readonly<Record<string, string>> = { zip: 'application/zip', pdf: 'application/pdf', txt: 'text/plain;charset=utf-8', mjs: 'text/javascript', json: 'application/json' };

const save = (fileName: string, content: BlobPart): void => {
  const url = URL.createObjectURL(new Blob([content], { type: types[fileName.split('.').at(-1) ?? ''] ?? 'application/octet-stream' }));
  const link = document.createElement('a');
  link.href = url;
  link.download = fileName;
  link.click();
  // The browser reads it after the click; give it the time.
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
};

/** Puts a file where the browser keeps downloads. */
export const saveFile = ({ fileName, base64 }: MadeFile): void => save(fileName, Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0)));

export const saveText = (fileName: string, text: string): void => save(fileName, text);
