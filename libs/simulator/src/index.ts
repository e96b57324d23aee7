export * from './events.js';
export * from './scenario.js';
export * from './leaf.js';
export { type BenchTruth, type TrueDisc, type TrueReading } from './bench.js';
export { type TrueUnit } from './devices.js';
export { simulateLab, type SimulatedLab } from './lab.js';
export { simulateField, type SimulatedField, type TrueInstallation } from './field.js';
