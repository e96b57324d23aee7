import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Kind, parse, visit } from 'graphql';
import type { DocumentNode, FragmentDefinitionNode } from 'graphql';
import type { Plugin } from 'vite';

const call = /graphql\(\s*`([^`]*)`\s*\)/g;
const importLine = /^import \{ graphql \} from '[^']*generated\/index\.js';\n/m;

function fragmentsUnder(folder: string): Map<string, FragmentDefinitionNode> {
  const files = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((name) => name.endsWith('documents.ts'));
  const sources = files.flatMap((name) => [...readFileSync(join(folder, name), 'utf8').matchAll(call)].map(([, source]) => source ?? ''));
  const definitions = sources.flatMap((source) => parse(source, { noLocation: true }).definitions);
  return new Map(definitions.flatMap((each) => (each.kind === Kind.FRAGMENT_DEFINITION ? [[each.name.value, each]] : [])));
}

/** The document with every fragment that it spreads, and those that they spread. */
function withFragments(document: DocumentNode, fragments: ReadonlyMap<string, FragmentDefinitionNode>): DocumentNode {
  const own = new Set(document.definitions.flatMap((each) => (each.kind === Kind.FRAGMENT_DEFINITION ? [each.name.value] : [])));
  const needed = new Map<string, FragmentDefinitionNode>();
  const collect = (node: DocumentNode | FragmentDefinitionNode): void => {
    visit(node, {
      FragmentSpread({ name: { value: name } }) {
        const fragment = fragments.get(name);
        if (!fragment) throw new Error(`No document declares the fragment ${name}.`);
        if (own.has(name) || needed.has(name)) return;
        needed.set(name, fragment);
        collect(fragment);
      },
    });
  };
  collect(document);
  return { ...document, definitions: [...document.definitions, ...needed.values()] };
}

/**
 * Puts each document where it is written, parsed at build time, instead of the generated table of all documents: a
 * screen then loads its own documents and no other's, and none is parsed in the browser. Types still come from codegen.
 */
export function inlineDocuments(folder: string): Plugin {
  return {
    name: 'threadleaf-inline-documents',
    enforce: 'pre',
    transform(code, id) {
      if (!id.startsWith(folder) || !id.endsWith('documents.ts')) return null;
      const fragments = fragmentsUnder(folder);
      const inlined = code.replace(importLine, '').replace(call, (_, source: string) => JSON.stringify(withFragments(parse(source, { noLocation: true }), fragments)));
      return { code: inlined, map: null };
    },
  };
}
