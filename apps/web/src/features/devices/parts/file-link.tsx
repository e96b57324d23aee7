/** A file that a fact was read from. */
export const FileLink = ({ file }: { readonly file?: { readonly name: string; readonly url: string } | null }) => (file ? <a href={file.url}>{file.name}</a> : null);
