import type { ManifestFile } from './manifest.js';
import type { PackContents } from './layout.js';

/**
 * The pack described as an RO-Crate 1.2 (https://w3id.org/ro/crate/1.2), in JSON-LD: what the folder is, who is named
 * in it, and each file with its media type, size and hash, for catalogues and archives that know that form.
 *
 * @param files all files of the pack but this one, the manifest, which lists this one, and the seal of the manifest
 */
export function crateMetadata(contents: PackContents, files: readonly ManifestFile[]): object {
  const { title, description, licence, createdAt, madeBy, subject, labId, agents } = contents;
  return {
    '@context': 'https://w3id.org/ro/crate/1.2/context',
    '@graph': [
      {
        '@id': 'ro-crate-metadata.json', '@type': 'CreativeWork',
        about: { '@id': './' }, conformsTo: { '@id': 'https://w3id.org/ro/crate/1.2' },
      },
      {
        '@id': './', '@type': 'Dataset',
        name: title, description, datePublished: createdAt, license: { '@id': '#licence' },
        identifier: `urn:x-threadleaf:record:${subject.id}`, creator: { '@id': '#lab' },
        hasPart: [...files.map(({ path }) => ({ '@id': path })), { '@id': 'manifest.json' }],
      },
      { '@id': '#licence', '@type': 'CreativeWork', name: 'Terms of use', description: licence },
      { '@id': '#lab', '@type': 'Organization', name: `Lab ${labId}` },
      { '@id': '#software', '@type': 'SoftwareApplication', name: madeBy },
      {
        '@id': '#making', '@type': 'CreateAction', name: 'Making of this pack', endTime: createdAt,
        instrument: { '@id': '#software' }, result: { '@id': './' },
      },
      ...agents.map(({ id, kind, name }) => ({
        '@id': `#agent-${id}`, '@type': kind === 'person' ? 'Person' : 'SoftwareApplication', name,
      })),
      ...files.map(({ path, mediaType, bytes, sha256, title: fileTitle }) => ({
        '@id': path, '@type': 'File', name: fileTitle, encodingFormat: mediaType, contentSize: String(bytes), sha256,
      })),
      { '@id': 'manifest.json', '@type': 'File', name: 'List of all files with their hashes', encodingFormat: 'application/json' },
    ],
  };
}
