interface Credit {
  readonly labName: string;
  readonly label: string;
  readonly version: number;
  readonly licence: string;
  readonly citation: string;
}

/** Calibrations of other labs that a version rests on, each with its terms. */
export function Credits({ credits }: { readonly credits: readonly Credit[] }) {
  return <>{credits.map(({ labName, label, version, licence, citation }) => <div key={`${labName} ${label} ${version} ${licence} ${citation}`}>{label}, version {version}, of {labName}. Licence: {licence}. To be cited as: {citation}</div>)}</>;
}
