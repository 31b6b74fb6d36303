//! Running a script with many values of its choices.

use super::super::{Stop, hand_recipes};
use crate::args::Vary;
use crate::progress::Progress;
use rayon::prelude::*;
use ribwright_kernel::choice::{Choice, Chosen, Picks};
use ribwright_kernel::sculpture::Rules;
use ribwright_kernel::settings::unknown_name;
use ribwright_kernel::vary::{Fate, How, Tried, Variant, choose, combinations, measure, plan};
use ribwright_kernel::{Error, Registry};
use ribwright_scripts::{Outcome, Script, ScriptError, set_rule};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Variants that are tried unless more are asked for: up to as many combinations all of them.
const USUALLY: usize = 24;
/// Values of a range without steps, and of a seed, in a grid.
const LEVELS: usize = 3;
/// Rounds in which choices are found that only stand behind a value of another.
const ROUNDS: usize = 6;

/// One run of the script: the values it was given, what came of it, and what it asked for.
type Ran = (Result<Outcome, ScriptError>, Vec<Chosen>);

pub(super) fn try_out(args: &Vary, registry: &Registry, terminal: bool) -> Result<Tried, Stop> {
    let rules = rules(&args.rule)?;
    let script = hand_recipes(Script::read(&args.script).map_err(|e| shown(&e))?, &args.recipes)?;
    let (now, chosen) = script.run_and_choose(registry);
    if chosen.is_empty() {
        // A mistake before the first choice, or none at all.
        let outcome = now.map_err(|e| shown(&e))?;
        return Err(Stop::from(
            Error::input(format!("\"{}\" leaves nothing open", outcome.sculpture.name))
                .at(args.script.display().to_string())
                .remedy(
                    "write choose(\"lean\", 5, 20) in place of a number; `ribwright words choose` tells more",
                ),
        ));
    }
    let mut present: Picks = chosen.iter().map(|c| (c.choice.name.clone(), c.value.clone())).collect();
    let mut choices: Vec<Choice> = chosen.into_iter().map(|c| c.choice).collect();
    let (mut how, mut ran);
    let mut rounds = 0;
    loop {
        how = how_of(args, &choices);
        // A name to hold may stand behind a value of another.
        let held: Picks = args
            .hold
            .iter()
            .filter_map(|name| present.get(name).map(|value| (name.clone(), value.clone())))
            .collect();
        let points = plan(&choices, &present, &held, how)?;
        ran = points
            .into_par_iter()
            .map(|values| script.clone().with_values(values).run_and_choose(registry))
            .collect::<Vec<Ran>>();
        let found = new_choices(&ran, &choices);
        rounds += 1;
        if found.is_empty() || rounds == ROUNDS {
            break;
        }
        present.extend(found.iter().map(|c| (c.name.clone(), c.usual.clone())));
        choices.extend(found);
    }
    for name in &args.hold {
        if !present.contains_key(name) {
            let known = choices.iter().map(|c| c.name.as_str());
            return Err(unknown_name("choice", name, known).at("--hold").into());
        }
    }
    once_each(&mut ran);
    let progress = Progress::start(terminal, ran.len() as u64);
    let variants: Vec<Variant> = ran
        .into_par_iter()
        .enumerate()
        .map(|(index, (outcome, choices))| {
            let fate = fate(outcome, &rules, registry);
            progress.step("trying variants");
            Variant { number: index + 1, choices, fate }
        })
        .collect();
    drop(progress);
    // Nothing to look at: the folder stays as it was.
    let errors = variants.iter().map(|v| match &v.fate {
        Fate::Failed(error) => Some(error),
        _ => None,
    });
    if let Some(all) = errors.collect::<Option<Vec<&String>>>()
        && let Some(first) = all.first()
    {
        return Err(Stop(format!(
            "{first}\nnone of {} variants can be worked out; this is the first",
            all.len()
        )));
    }
    let name = match now {
        Ok(outcome) => outcome.sculpture.name,
        Err(_) => stem(args),
    };
    let sum = Sha256::digest(script.text.as_bytes()).iter().map(|b| format!("{b:02x}")).collect();
    let mut tried = Tried {
        name,
        script: args.script.file_name().unwrap_or_default().to_string_lossy().into_owned(),
        how: how.words(),
        choices,
        present,
        further: BTreeMap::from([("script_sha256".to_owned(), sum)]),
        variants,
        shown: Vec::new(),
    };
    tried.shown = choose(&tried, usize::from(args.show));
    Ok(tried)
}

fn how_of(args: &Vary, choices: &[Choice]) -> How {
    let levels = args.levels.map_or(LEVELS, usize::from);
    match args.count {
        Some(count) => How::Spread { count: usize::from(count), seed: args.seed },
        None if args.grid || combinations(choices, levels) <= USUALLY => How::Grid { levels },
        None => How::Spread { count: USUALLY, seed: args.seed },
    }
}

/// Choices that runs asked for and are not known yet, in the order of the runs.
fn new_choices(ran: &[Ran], known: &[Choice]) -> Vec<Choice> {
    let mut found: Vec<Choice> = Vec::new();
    for chosen in ran.iter().flat_map(|(_, chosen)| chosen) {
        let same = |c: &Choice| c.name == chosen.choice.name;
        if !known.iter().any(same) && !found.iter().any(same) {
            found.push(chosen.choice.clone());
        }
    }
    found
}

/// Leaves out runs that asked for the same values as one before: they differ in what was not asked for.
fn once_each(ran: &mut Vec<Ran>) {
    let mut seen: Vec<Picks> = Vec::new();
    ran.retain(|(outcome, chosen)| {
        let picks: Picks = chosen.iter().map(|c| (c.choice.name.clone(), c.value.clone())).collect();
        // A run that failed may not have come to the choices that tell it apart.
        let new = outcome.is_err() || !seen.contains(&picks);
        seen.push(picks);
        new
    });
}

/// What becomes of one variant: it stands alone, so that no other is lost with it.
fn fate(outcome: Result<Outcome, ScriptError>, rules: &[(String, f64)], registry: &Registry) -> Fate {
    let mut outcome = match outcome {
        Ok(outcome) => outcome,
        Err(e) => return Fate::Failed(e.render(false).trim_end().to_owned()),
    };
    for (name, value) in rules {
        if let Err(e) = set_rule(&mut outcome.sculpture.rules, name, *value) {
            return Fate::Failed(e.to_string());
        }
    }
    let judge = || measure(&outcome.sculpture, &outcome.findings, registry);
    match catch_unwind(AssertUnwindSafe(judge)) {
        Ok(Ok(Ok(measured))) => Fate::Kept(Box::new(measured)),
        Ok(Ok(Err((why, figures)))) => Fate::Out(why, figures),
        Ok(Err(e)) => Fate::Failed(Stop::from(e).0),
        Err(_) => Fate::Failed("error (a fault of ribwright, not of the script): it broke down".to_owned()),
    }
}

/// Rules as they were given: `least_margin=80`.
fn rules(given: &[String]) -> Result<Vec<(String, f64)>, Stop> {
    let read = |text: &String| {
        let wrong = || {
            Error::input(format!("{text:?} is no rule"))
                .at("--rule")
                .remedy("write it like least_margin=80; `ribwright words rules` lists them")
        };
        let (name, number) = text.split_once('=').ok_or_else(wrong)?;
        let number: f64 = number.trim().parse().map_err(|_| wrong())?;
        let name = name.trim().to_owned();
        set_rule(&mut Rules::default(), &name, number).map_err(|e| e.at("--rule"))?;
        Ok((name, number))
    };
    given.iter().map(|text| read(text).map_err(|e: Error| Stop::from(e))).collect()
}

fn shown(error: &ScriptError) -> Stop {
    Stop(error.render(false).trim_end().to_owned())
}

fn stem(args: &Vary) -> String {
    args.script.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}
