import { NativeSelect, PasswordInput, Textarea, TextInput } from '@mantine/core';
import { useId } from 'react';
import type { ReactNode } from 'react';
import type { FieldBinding } from './entry.js';
import type { ProblemSeen } from './send.js';
import styles from './entry.module.css';

interface FieldProps<T> extends FieldBinding<T> {
  readonly label: string;
  /** How to fill it in, or what it is for. */
  readonly hint?: ReactNode;
  /** May stay empty, and says so. */
  readonly optional?: boolean;
  /** Neither needed nor marked: for what narrows a list. */
  readonly unmarked?: boolean;
  /** Takes the whole width of the form. */
  readonly wide?: boolean;
  readonly autoFocus?: boolean;
}

const parts = { label: styles.label, description: styles.hint, error: styles.problem, input: styles.input };
const order: ('label' | 'input' | 'description' | 'error')[] = ['label', 'input', 'description', 'error'];

const told = (problem: ProblemSeen | null): ReactNode => (problem ? `${problem.message} ${problem.remedy}` : null);

function shared<T>({ name, label, hint, problem, optional, unmarked, wide, autoFocus }: FieldProps<T>) {
  return {
    name,
    label: optional ? <>{label} <span className={styles.optional}>may stay empty</span></> : label,
    description: hint,
    error: told(problem),
    withAsterisk: false,
    'aria-required': !optional && !unmarked,
    classNames: { ...parts, ...(wide ? { root: styles.wide } : {}) } as Record<string, string>,
    inputWrapperOrder: order,
    // A phone that opens its keyboard unasked hides half the screen; a field asks for focus only where the next act is typing.
    autoFocus: autoFocus ?? false,
  };
}

interface TextFieldProps extends FieldProps<string> {
  readonly autoComplete?: string;
  readonly inputMode?: 'text' | 'email' | 'decimal' | 'numeric' | 'search';
  readonly placeholder?: string;
}

/** One line of text. */
export function TextField(props: TextFieldProps) {
  const { value, onChange, autoComplete = 'off', inputMode = 'text', placeholder } = props;
  return (
    <TextInput {...shared(props)} value={value} onChange={(event) => onChange(event.currentTarget.value)}
      autoComplete={autoComplete} inputMode={inputMode} {...(placeholder ? { placeholder } : {})} />
  );
}

/** A number as a person types it, with decimal point or comma: kept as text, never rounded here. The unit stands in the label. */
export function NumberField(props: TextFieldProps) {
  return <TextField {...props} inputMode={props.inputMode ?? 'decimal'} />;
}

export function AreaField(props: FieldProps<string> & { readonly rows?: number; readonly raw?: boolean }) {
  return (
    <Textarea {...shared({ wide: true, ...props })} value={props.value} rows={props.rows ?? 3}
      {...(props.raw ? { styles: { input: { fontFamily: 'var(--raw-face)', fontSize: '0.9375rem' } } } : {})}
      onChange={(event) => props.onChange(event.currentTarget.value)} />
  );
}

export function PasswordField(props: FieldProps<string> & { readonly autoComplete: 'current-password' | 'new-password' }) {
  return (
    <PasswordInput {...shared(props)} value={props.value} autoComplete={props.autoComplete} aria-invalid={props.problem ? true : undefined}
      visibilityToggleButtonProps={{ 'aria-label': 'Show or hide the password' }} onChange={(event) => props.onChange(event.currentTarget.value)} />
  );
}

export interface Choice {
  readonly value: string;
  readonly label: string;
}

/** One of a list. `none` is what an empty choice says; without it the first choice is taken. */
export function ChoiceField(props: FieldProps<string> & { readonly choices: readonly Choice[]; readonly none?: string }) {
  const { choices, none, value, onChange } = props;
  const data = [...(none === undefined ? [] : [{ value: '', label: none }]), ...choices];
  return <NativeSelect {...shared(props)} value={value} data={data} onChange={(event) => onChange(event.currentTarget.value)} />;
}

/** A date and time on this computer's clock; give and take the text of an input of type datetime-local. */
export function MomentField(props: FieldProps<string>) {
  return <TextInput {...shared(props)} type="datetime-local" step={1} value={props.value} onChange={(event) => props.onChange(event.currentTarget.value)} />;
}

/** One of a few, all in view: large enough for a gloved hand. */
export function SegmentField(props: FieldProps<string> & { readonly choices: readonly Choice[] }) {
  const { label, name, choices, value, onChange, hint, problem, wide } = props;
  const group = useId();
  return (
    <fieldset className={`${styles.choices} ${wide ? styles.wide : ''}`} aria-describedby={`${group}-told`}>
      <legend className={styles.label}>{label}</legend>
      <div className={styles.segments}>
        {choices.map((choice) => (
          <label key={choice.value} className={styles.segment}>
            <input type="radio" name={`${name}-${group}`} value={choice.value} checked={choice.value === value} onChange={() => onChange(choice.value)} />
            <span>{choice.label}</span>
          </label>
        ))}
      </div>
      <div id={`${group}-told`}>
        {hint ? <p className={styles.hint}>{hint}</p> : null}
        {problem ? <p className={styles.problem}>{told(problem)}</p> : null}
      </div>
    </fieldset>
  );
}

export interface TickChoice extends Choice {
  readonly beside?: string;
}

/** Several of a list. */
export function TicksField(props: FieldProps<readonly string[]> & { readonly choices: readonly TickChoice[]; readonly empty: ReactNode }) {
  const { label, choices, value, onChange, hint, problem, empty } = props;
  const group = useId();
  const toggle = (each: string) => onChange(value.includes(each) ? value.filter((kept) => kept !== each) : [...value, each]);
  return (
    <fieldset className={`${styles.choices} ${styles.wide}`} aria-describedby={`${group}-told`}>
      <legend className={styles.label}>{label}</legend>
      {choices.length === 0 ? empty : (
        <div className={styles.ticks} role="group" aria-label={label} tabIndex={0}>
          {choices.map((choice) => (
            <label key={choice.value} className={styles.tick}>
              <input type="checkbox" checked={value.includes(choice.value)} onChange={() => toggle(choice.value)} />
              <span>{choice.label} {choice.beside ? <small>{choice.beside}</small> : null}</span>
            </label>
          ))}
        </div>
      )}
      <div id={`${group}-told`}>
        {hint ? <p className={styles.hint}>{hint}</p> : null}
        {problem ? <p className={styles.problem}>{told(problem)}</p> : null}
      </div>
    </fieldset>
  );
}

/** Yes or no, as one line to tick. */
export function TickField(props: FieldProps<boolean>) {
  return (
    <label className={`${styles.tick} ${props.wide ? styles.wide : ''}`}>
      <input type="checkbox" name={props.name} checked={props.value} onChange={(event) => props.onChange(event.currentTarget.checked)} />
      <span>{props.label} {props.hint ? <small>{props.hint}</small> : null}</span>
    </label>
  );
}
