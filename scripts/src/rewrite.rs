//! The interpreter's errors in our own words.

use crate::api::{CallerFault, Fault};
use crate::engine::{STOPPED_BY_CLOCK, why_disabled};
use crate::error::{Frame, ScriptError};
use crate::resolver::too_many_modules;
use crate::session::{Session, Site};
use crate::slips::slip;
use crate::words::Vocabulary;
use crate::{convert, limits};
use rhai::{Engine, EvalAltResult, LexError, ParseErrorType, Position};
use ribwright_kernel::Error;

/// An error for people, at its innermost place, with the calls that led there.
pub(crate) fn rewrite(session: &Session, engine: &Engine, error: EvalAltResult) -> ScriptError {
    let mut callers = Vec::new();
    let (error, source) = innermost(error, None, &mut callers);
    let said = say(session, engine, &error);
    let mut site = Site { source, position: error_position(&error) };
    if is_callers(&error) {
        // Out of the recipe, as far as it goes.
        let recipe = site.source.clone();
        while site.source == recipe
            && let Some(caller) = callers.pop()
        {
            site = caller;
        }
    }
    let callers: Vec<Frame> = callers.iter().rev().map(|site| session.frame(site)).collect();
    let shown = at_site(session, &said, &site).with_callers(shortened(callers));
    match slip(shown.place(), &error) {
        Some(remedy) => shown.with_remedy(Some(remedy)),
        None => shown,
    }
}

/// An error of the kernel at a place of the script.
pub(crate) fn at_site(session: &Session, error: &Error, site: &Site) -> ScriptError {
    let message = match error.place() {
        Some(place) => format!("{place}: {}", error.message()),
        None => error.message().to_owned(),
    };
    ScriptError::new(message, session.frame(site))
        .with_remedy(error.remedy_text().map(str::to_owned))
        .with_printed(session.lock().printed.clone())
}

/// Most calls shown of those that led to an error.
const SHOWN_CALLERS: usize = 4;

fn shortened(mut callers: Vec<Frame>) -> Vec<Frame> {
    callers.dedup();
    callers.truncate(SHOWN_CALLERS);
    callers
}

/// Unwraps calls and modules, noting the place of each.
fn innermost(
    error: EvalAltResult,
    source: Option<String>,
    callers: &mut Vec<Site>,
) -> (EvalAltResult, Option<String>) {
    match error {
        EvalAltResult::ErrorInFunctionCall(_, inside, inner, position) => {
            callers.push(Site { source: source.clone(), position });
            let inside = if inside.is_empty() { source } else { Some(inside) };
            innermost(*inner, inside, callers)
        }
        EvalAltResult::ErrorInModule(name, inner, position) => {
            callers.push(Site { source, position });
            innermost(*inner, Some(name), callers)
        }
        other => (other, source),
    }
}

/// Whether the fault is not where it was found, but where the recipe was called.
fn is_callers(error: &EvalAltResult) -> bool {
    matches!(error, EvalAltResult::ErrorRuntime(value, _) if value.is::<CallerFault>())
}

fn error_position(error: &EvalAltResult) -> Position {
    error.position()
}

/// What a script says as it stops itself, no longer than a person reads.
fn thrown(text: &str) -> String {
    let mut shown: String = text.chars().take(limits::MAX_THROWN).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    shown
}

fn say(session: &Session, engine: &Engine, error: &EvalAltResult) -> Error {
    use EvalAltResult as E;
    let words = || Vocabulary::new(engine, &session.registry(), &session.lock().own_functions);
    match error {
        E::ErrorRuntime(value, _) => match value.clone().try_cast::<Fault>() {
            Some(fault) => fault.0,
            None if value.is::<CallerFault>() => value
                .clone()
                .try_cast::<CallerFault>()
                .map_or_else(|| Error::bug("a fault was lost"), |fault| fault.0),
            None if value.to_string().trim().is_empty() => {
                Error::input("the script stopped itself with throw")
            }
            None => Error::input(thrown(&value.to_string()))
                .remedy("the script or recipe itself stopped here with throw; see the lines around it"),
        },
        E::ErrorParsing(parse, _) => say_parse(parse),
        E::ErrorFunctionNotFound(call, _) => words().unknown_call(call),
        E::ErrorVariableNotFound(name, _) => words().unknown_variable(name),
        E::ErrorPropertyNotFound(name, _) => Error::input(format!("there is no entry \"{name}\" in the map"))
            .remedy("check the name, or set it first"),
        E::ErrorDotExpr(text, _) => say_dot(&words(), text),
        E::ErrorIndexingType(text, _) => {
            Error::input(format!("this cannot be indexed with [ ]: {}", kinds_in(text)))
                .remedy("lists take a whole number from 0, maps take a name in quotes")
        }
        E::ErrorIndexNotFound(index, _) => Error::input(format!("there is no entry {index}"))
            .remedy("lists are counted from 0, maps take a name in quotes"),
        E::ErrorArrayBounds(length, index, _) | E::ErrorStringBounds(length, index, _) => {
            let remedy = match length {
                0 => "it is empty".to_owned(),
                n => format!("entries are counted from 0 to {}", n - 1),
            };
            Error::input(format!("there is no entry {index}, the length is {length}")).remedy(remedy)
        }
        E::ErrorMismatchDataType(wanted, found, _) | E::ErrorMismatchOutputType(wanted, found, _) => {
            mismatch(wanted, found)
        }
        E::ErrorModuleNotFound(name, _) => Error::input(format!("there is no module {name}"))
            .remedy("import it first: import \"name\" as name; calls are then written name::call(…)"),
        E::ErrorVariableExists(name, _) => {
            Error::input(format!("variable {name} is there already")).remedy("choose another name")
        }
        E::ErrorForbiddenVariable(name, _) => {
            Error::input(format!("{name} cannot be used as a name")).remedy("choose another name")
        }
        E::ErrorAssignmentToConstant(name, _) => Error::input(format!("{name} is a constant"))
            .remedy("make it with let instead of const to change it"),
        E::ErrorNonPureMethodCallOnConstant(name, _) => {
            Error::input(format!("{name} would change a constant"))
                .remedy("make it with let instead of const")
        }
        E::ErrorFor(_) => Error::input("for cannot go through this value")
            .remedy("give a list or a range of whole numbers: for i in 0..5 { … }"),
        E::ErrorUnboundThis(_) => Error::input("this has no meaning here").remedy("name the variable"),
        E::ErrorDataRace(name, _) => Error::input(format!("{name} is used while it is being changed"))
            .remedy("keep a copy in a variable of its own first"),
        E::ErrorArithmetic(text, _) => {
            Error::input(format!("this cannot be worked out: {}", lower_first(text)))
                .remedy("check the numbers")
        }
        E::LoopBreak(..) => Error::input("break and continue belong inside a loop").remedy("take it out"),
        limit => say_limit(limit),
    }
}

fn say_limit(error: &EvalAltResult) -> Error {
    use EvalAltResult as E;
    let endless = "look for a loop without an end, or one that runs far too often";
    match error {
        E::ErrorTerminated(reason, _) if reason.to_string() == STOPPED_BY_CLOCK => {
            Error::input(format!("the script ran longer than {} seconds", limits::MAX_TIME.as_secs()))
                .remedy(endless)
        }
        E::ErrorTerminated(..) | E::ErrorTooManyOperations(_) => {
            Error::input(format!("the script took more than {} steps", limits::MAX_OPERATIONS))
                .remedy(endless)
        }
        E::ErrorStackOverflow(_) => {
            Error::input(format!("functions call one another more than {} deep", limits::MAX_CALL_LEVELS))
                .remedy("look for a function that calls itself without an end")
        }
        E::ErrorTooManyVariables(_) => {
            Error::input(format!("there are more than {} variables at one time", limits::MAX_VARIABLES))
                .remedy("keep like things in a list")
        }
        E::ErrorTooManyModules(_) => too_many_modules(),
        E::ErrorDataTooLarge(what, _) => say_too_large(what),
        other => Error::input(lower_first(&other.to_string())),
    }
}

fn say_too_large(what: &str) -> Error {
    let what = what.to_lowercase();
    let (what, limit) = if what.contains("string") {
        ("a text (or the texts of a list together)", format!("{} bytes", limits::MAX_STRING_SIZE))
    } else if what.contains("map") {
        ("a map (with the maps inside it)", format!("{} entries", limits::MAX_MAP_SIZE))
    } else {
        ("a list (with the lists inside it)", format!("{} entries", limits::MAX_ARRAY_SIZE))
    };
    Error::input(format!("{what} would grow beyond {limit}"))
        .remedy("look for a loop that makes it grow without need")
}

/// `Unknown property 'clad' - a getter is not registered for type 'element'`.
fn say_dot(words: &Vocabulary, text: &str) -> Error {
    let mut quoted = text.split('\'').skip(1).step_by(2);
    match (quoted.next(), quoted.next()) {
        (Some(name), Some(kind)) => words.unknown_property(name, kind),
        _ => Error::input(lower_first(text)),
    }
}

/// The types in an interpreter's text, in our words.
fn kinds_in(text: &str) -> String {
    let kinds: Vec<String> = text
        .split(|c: char| !(c.is_alphanumeric() || "_:&=".contains(c)))
        .filter(|word| !word.is_empty())
        .map(convert::type_words)
        .collect();
    kinds.join(", ")
}

fn say_parse(error: &ParseErrorType) -> Error {
    use ParseErrorType as P;
    match error {
        P::UnexpectedEOF => Error::input("the script ends in the middle of something")
            .remedy("look for a bracket or a quotation mark that is not closed"),
        P::BadInput(lex) => say_lex(lex),
        P::MissingToken(token, purpose) => {
            let purpose = purpose.replace("of this object map", "of this map");
            Error::input(format!("`{token}` is missing here, {}", purpose.trim()))
                .remedy(format!("put a `{token}` before this place, or check what stands before it"))
        }
        P::Reserved(word) if word == "#" => Error::input("`#` begins no comment here")
            .remedy("write // before a comment, and #{ … } round a map"),
        P::Reserved(word) => match why_disabled(word) {
            Some(why) => Error::input(format!("{word} cannot be used: {why}")).remedy("take it out"),
            None => Error::input(format!("{word} is a word of the language and cannot be a name"))
                .remedy("choose another name"),
        },
        P::ExprTooDeep => Error::input(format!(
            "brackets and blocks are nested more than {} deep",
            limits::MAX_EXPRESSION_DEPTH
        ))
        .remedy("keep parts of it in variables"),
        P::TooManyFunctions => {
            Error::input(format!("there are more than {} functions", limits::MAX_FUNCTIONS))
                .remedy("move some of them into a module")
        }
        P::LiteralTooLarge(what, _) => say_too_large(what),
        P::DuplicatedProperty(name) => {
            Error::input(format!("\"{name}\" is given twice in one map")).remedy("keep one of them")
        }
        P::DuplicatedVariable(name) | P::VariableExists(name) => {
            Error::input(format!("variable {name} is there already")).remedy("choose another name")
        }
        P::ForbiddenVariable(name) => {
            Error::input(format!("{name} cannot be used as a name")).remedy("choose another name")
        }
        P::UnknownOperator(sign) => Error::input(format!("`{sign}` is not a sign of the language"))
            .remedy("take it out, or check the spelling"),
        P::AssignmentToConstant(name) => Error::input(format!("{name} is a constant"))
            .remedy("make it with let instead of const to change it"),
        P::WrongFnDefinition => Error::input("a function is defined inside a block")
            .remedy("move it out, to the top level of the script"),
        P::MismatchedType(wanted, found) => mismatch(wanted, found),
        P::LoopBreak => Error::input("break and continue belong inside a loop").remedy("take it out"),
        P::PropertyExpected => Error::input("the name of a setting is expected here")
            .remedy("write name: value, with a comma between settings; decimals have a point: 8.5, not 8,5"),
        other => {
            Error::input(lower_first(&other.to_string())).remedy("check the spelling and the brackets here")
        }
    }
}

fn mismatch(wanted: &str, found: &str) -> Error {
    let (wanted, found) = (convert::type_words(wanted), convert::type_words(found));
    Error::input(format!("expected {wanted}, found {found}")).remedy(format!("give {wanted} here"))
}

fn say_lex(error: &LexError) -> Error {
    let text = error.to_string();
    let disabled = text.split('\'').nth(1).filter(|_| text.contains("is disabled"));
    if let Some((word, why)) = disabled.and_then(|word| Some((word, why_disabled(word)?))) {
        return Error::input(format!("{word} cannot be used: {why}")).remedy("take it out");
    }
    match error {
        LexError::UnterminatedString => {
            Error::input("a text is not closed").remedy("put a quotation mark at its end")
        }
        LexError::StringTooLong(_) => say_too_large("string"),
        LexError::UnexpectedInput(sign) if sign.starts_with(['“', '”', '„', '«', '»', '‘', '’']) => {
            Error::input(format!("`{sign}` is no quotation mark here"))
                .remedy("put texts between straight double quotes: \"A/top\"")
        }
        LexError::MalformedChar(text) => Error::input(format!("'{text}' stands between single quotes"))
            .remedy(format!("put texts between double quotes: \"{text}\"")),
        LexError::UnexpectedInput(sign) if sign.starts_with(['°', '′', '″', '²']) => {
            Error::input(format!("`{sign}` has no meaning here"))
                .remedy("write the number alone: lengths are mm, angles degrees")
        }
        LexError::UnexpectedInput(sign) => Error::input(format!("`{sign}` has no meaning here"))
            .remedy("names are written with a to z, digits and _; other signs belong in quotes"),
        LexError::ImproperSymbol(sign, _) if sign == "{" => {
            Error::input("a map begins with #{ here").remedy("write #{ name: value }")
        }
        other => Error::input(lower_first(&other.to_string())).remedy("check the spelling here"),
    }
}

fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}
