export { calendar, dateTimeUtc, escapeText, foldLine, type CalendarContents, type CalendarEvent } from './icalendar.js';
