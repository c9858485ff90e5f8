import { type Arguments, allowed, extrapolated, type Formula, type Inputs } from '../chemistry/formula.ts';
import type { Working } from './answer.ts';

/** Computes by formulas, and keeps of each what has to be shown of it when a number is opened. */
export class Workings {
  readonly list: Working[] = [];

  /** What the formula gives for these arguments; the working of the fields of the answer that it fills. */
  by<I extends Inputs, R>(
    fields: string | readonly string[],
    formula: Formula<I, R>,
    args: Arguments<NoInfer<I>>,
  ): R {
    const result = formula(args);
    const { gives, unit, constants = {}, source, uncertainty, disagreement = null } = formula;
    this.list.push({
      fields: [fields].flat(),
      gives,
      unit,
      formula: formula.formula,
      inputs: inputsOf(formula, args),
      constants,
      source,
      uncertainty,
      disagreement,
    });
    return result;
  }
}

function inputsOf<I extends Inputs, R>(formula: Formula<I, R>, args: Arguments<I>): Working['inputs'] {
  const beyond = extrapolated(formula, args);
  const inputs: Working['inputs'] = {};
  for (const name in formula.inputs) {
    const input = formula.inputs[name]!;
    inputs[name] = {
      what: input.what,
      value: args[name] as number | string | number[],
      unit: 'unit' in input ? input.unit : '',
      valid: allowed(input, 'vouched'),
      extrapolated: beyond.includes(name),
    };
  }
  return inputs;
}
