import { GraphQLScalarType, Kind } from 'graphql';
import { GraphQLError } from 'graphql';

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/i;

const textScalar = (name: string, read: (text: string) => string): GraphQLScalarType =>
  new GraphQLScalarType({
    name,
    serialize: (value) => String(value),
    parseValue: (value) => {
      if (typeof value !== 'string') throw new GraphQLError(`${name} must be a text.`);
      return read(value);
    },
    parseLiteral: (node) => {
      if (node.kind !== Kind.STRING) throw new GraphQLError(`${name} must be a text.`);
      return read(node.value);
    },
  });

/** Moments and decimals pass as text: use cases read them, so that an error can name the field. */
export const scalars = {
  UUID: textScalar('UUID', (text) => {
    if (!UUID.test(text)) throw new GraphQLError(`"${text}" is not a UUID.`);
    return text.toLowerCase();
  }),
  Moment: textScalar('Moment', (text) => text),
  Decimal: textScalar('Decimal', (text) => text),
};
