import { airMass, bandIrradiance, bellBand, inBandSunlight, incidenceCosine, REFERENCE_SUNLIGHT, skyShift, sunPosition, vapourRatio } from '#libs/sunlight';

const BAND = { centreNm: 1470, widthNm: 20 };
const at = (nm: number): number => REFERENCE_SUNLIGHT.values[nm - 1420]!;

describe('the reference spectrum', () => {
  // ASTM G173-03, global tilt: figures of the trade's notes, taken from the public table on their own.
  it('has the lines that make one wavelength no measure of a band', () => {
    expect(at(1470)).toBeCloseTo(0.050, 3);
    expect(at(1471)).toBeCloseTo(0.018, 3);
    expect(at(1475)).toBeCloseTo(0.185, 3);
  });

  it('means 0.082 W m⁻² nm⁻¹ from 1460 to 1480 nm', () => {
    const values = Array.from({ length: 21 }, (_, i) => at(1460 + i));
    expect(values.reduce((sum, value) => sum + value, 0) / values.length).toBeCloseTo(0.082, 3);
  });

  it('is weighted over the band', () => {
    expect(bellBand(BAND).values[bellBand(BAND).wavelengthNm.indexOf(1480)]).toBeCloseTo(0.5, 12);
    // A bell of full width w has the area w·√(π/(4 ln 2)) = 1.0645·w; mean 0.082 times that is near.
    expect(bandIrradiance(BAND) / (1.0645 * 20)).toBeCloseTo(0.086, 2);
    expect(() => bandIrradiance({ centreNm: 1400, widthNm: 20 })).toThrow(expect.objectContaining({ code: 'BAND_OUTSIDE_SPECTRUM' }));
  });
});

describe('water vapour', () => {
  // Bird & Riordan's model at 1462.5 nm, air mass 1.5, beside 1.42 cm: figures derived in the trade's notes.
  it.each([[0.7, 1.4], [3, 0.59], [5, 0.35]])('of %s cm lets %s of the light through', (vapourCm, ratio) => {
    expect(vapourRatio(1462.5, vapourCm, 1.5)).toBeCloseTo(ratio, 2);
  });

  it('moves the trip by about 53 points from 1.4 to 3 cm at b = 1', () => {
    expect(100 * skyShift(vapourRatio(1462.5, 3, 1.5), 1).rwcShift).toBeCloseTo(-53, 0);
  });

  it('hardly counts at 1550 nm', () => {
    expect(vapourRatio(1550, 5, 1.5)).toBeGreaterThan(0.98);
  });
});

describe('the sun', () => {
  it('stands where the Solar Position Algorithm has it', () => {
    // Reda & Andreas, NREL/TP-560-34302, table A5.1: 17 October 2003, 12:30:30 at UTC−7, zenith 50.11162°, azimuth 194.34024° (from memory).
    const { elevationDeg, azimuthDeg } = sunPosition(Date.UTC(2003, 9, 17, 19, 30, 30), 39.742476, -105.1786);
    expect(Math.abs(90 - elevationDeg - 50.11162)).toBeLessThan(0.05);
    expect(Math.abs(azimuthDeg - 194.34024)).toBeLessThan(0.05);
  });

  it('has the air mass of Kasten and Young', () => {
    // Their table: 1.9939 at 30° and 5.5800 at 10° true elevation for the revised formula (from memory, to three digits).
    expect(airMass(90)).toBeCloseTo(1, 3);
    expect(airMass(30)).toBeCloseTo(1.994, 3);
    expect(airMass(10)).toBeCloseTo(5.58, 1);
    expect(() => airMass(-1)).toThrow(expect.objectContaining({ code: 'SUN_BELOW_HORIZON' }));
  });

  it('falls on a tilted leaf by the cosine of its angle', () => {
    expect(incidenceCosine({ elevationDeg: 30, azimuthDeg: 180 }, 60, 180)).toBeCloseTo(1, 12);
    expect(incidenceCosine({ elevationDeg: 30, azimuthDeg: 180 }, 0, 0)).toBeCloseTo(0.5, 12);
    expect(incidenceCosine({ elevationDeg: 20, azimuthDeg: 90 }, 90, 270)).toBe(0);
  });
});

describe('light on a leaf', () => {
  // A clear midsummer day at 40° N, horizontal leaf: 0.96, 0.84 and 0.65 of noon at one, two and three hours (derived in the trade’s notes for one wavelength; the band takes less up).
  const noon = Date.UTC(2026, 5, 21, 12, 2);
  const light = (hours: number): number => inBandSunlight(BAND, { sun: sunPosition(noon + hours * 3_600_000, 40, 0), vapourCm: 1.42, tiltDeg: 0, facingDeg: 180, cloudFactor: 1 });

  it.each([[1, 0.96], [2, 0.84], [3, 0.65]])('is at %s h from noon about %s of it, before and after', (hours, part) => {
    expect(Math.abs(light(hours) / light(0) - part)).toBeLessThan(0.05);
    expect(Math.abs(light(-hours) / light(0) - part)).toBeLessThan(0.05);
  });

  it('is none at night', () => {
    expect(light(12)).toBe(0);
    expect(skyShift(0, 1).rwcShift).toBe(-Infinity);
  });

  it('moves the trip by 8 to 16 points for ten per cent', () => {
    // b from 0.65 to 1.25: the range of the trade's notes.
    expect(100 * skyShift(1.1, 1.18).rwcShift).toBeCloseTo(8.1, 1);
    expect(100 * skyShift(1.1, 1.01).rwcShift).toBeCloseTo(9.4, 1);
    expect(100 * skyShift(1.1, 0.65).rwcShift).toBeLessThan(16);
  });
});
