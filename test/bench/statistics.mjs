/** The value below which a share of all lies (nearest rank). */
export function quantile(values, share) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(Math.max(Math.ceil(share * sorted.length) - 1, 0), sorted.length - 1)];
}

export function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2;
}

export const round = (value, digits = 2) => Number(value.toFixed(digits));
