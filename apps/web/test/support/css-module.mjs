/** Class names of a CSS module in tests: each is its own name. */
export default new Proxy({}, { get: (_target, name) => (typeof name === 'string' ? name : undefined) });
