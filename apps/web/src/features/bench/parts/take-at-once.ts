const key = 'threadleaf.takeAtOnce';

/** Whether stable lines are recorded on this computer without Enter; off until somebody wants it. */
export const takesAtOnce = (): boolean => localStorage.getItem(key) === 'on';
export const takeAtOnce = (on: boolean): void => localStorage.setItem(key, on ? 'on' : 'off');
