import { InputError, requireFinite, requirePositive } from '../src/index.js';

describe('InputError', () => {
  it('names the field and the remedy', () => {
    const error = new InputError('X', 'massMg', 'is missing', 'Weigh the disc.');
    expect(error.message).toBe('massMg: is missing. Weigh the disc.');
    expect(error).toBeInstanceOf(Error);
  });

  it.each([NaN, Infinity, -Infinity])('refuses %p as a number', (value) => {
    expect(() => requireFinite('massMg', value)).toThrow(/massMg/);
  });

  it('refuses zero and negative where positive is asked', () => {
    expect(() => requirePositive('massMg', 0)).toThrow(InputError);
    expect(() => requirePositive('massMg', -1)).toThrow(InputError);
    expect(requirePositive('massMg', 1)).toBe(1);
  });
});
