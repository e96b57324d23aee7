import { DefaultNamingStrategy, type NamingStrategyInterface } from 'typeorm';

const snake = (name: string): string => name.replace(/([a-z0-9])([A-Z])/g, '$1_$2').toLowerCase();

/** `massMg` in code is `mass_mg` in the database; the entity `MeterReading` is the table `meter_reading`. */
export class SnakeNaming extends DefaultNamingStrategy implements NamingStrategyInterface {
  override tableName(className: string, customName?: string): string {
    return customName ?? snake(className);
  }

  override columnName(propertyName: string, customName: string): string {
    return customName || snake(propertyName);
  }
}
