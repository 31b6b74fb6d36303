//! Calls of the interpreter that could make far more than they are given before it looks: bounded ones in their place.

use super::Called;
use crate::engine::Room;
use crate::limits;
use rhai::{Array, Dynamic, Engine, EvalAltResult, FnPtr, ImmutableString, Map, NativeCallContext};

fn too_large(ctx: &NativeCallContext, what: &str) -> Box<EvalAltResult> {
    Box::new(EvalAltResult::ErrorDataTooLarge(what.to_owned(), ctx.call_position()))
}

/// Calls a function for each entry of a list, stopping where the results grow too large together.
fn map_list(ctx: &NativeCallContext, list: &Array, function: &FnPtr) -> Called<Array> {
    let (mut made, mut room) = (Array::new(), Room::new());
    for (at, item) in list.iter().enumerate() {
        let index = Dynamic::from(i64::try_from(at).unwrap_or(i64::MAX));
        // With the entry's index as well, where the function takes it.
        let value = function.call_raw(ctx, None, [item.clone()]).or_else(|e| match *e {
            EvalAltResult::ErrorFunctionNotFound(ref sought, _) if sought.starts_with(function.fn_name()) => {
                function.call_raw(ctx, None, [item.clone(), index])
            }
            _ => Err(e),
        })?;
        room.take(&value).map_err(|what| too_large(ctx, what))?;
        made.push(value);
    }
    Ok(made)
}

fn map_map(ctx: &NativeCallContext, map: &Map, function: &FnPtr) -> Called<Map> {
    let (mut made, mut room) = (Map::new(), Room::new());
    for (key, item) in map {
        let value = function.call_raw(ctx, None, [Dynamic::from(key.to_string()), item.clone()])?;
        room.take(&value).map_err(|what| too_large(ctx, what))?;
        made.insert(key.clone(), value);
    }
    Ok(made)
}

fn replace(ctx: &NativeCallContext, text: &mut ImmutableString, find: &str, by: &str) -> Called<()> {
    let found = if find.is_empty() { text.chars().count() + 1 } else { text.matches(find).count() };
    let longer = by.len().saturating_sub(find.len()).saturating_mul(found);
    if text.len().saturating_add(longer) > limits::MAX_STRING_SIZE {
        return Err(too_large(ctx, "string"));
    }
    *text = text.replace(find, by).into();
    Ok(())
}

pub(super) fn register(engine: &mut Engine) {
    engine
        .register_fn("map", |ctx: NativeCallContext, list: &mut Array, function: FnPtr| {
            map_list(&ctx, list, &function)
        })
        .register_fn("map", |ctx: NativeCallContext, map: &mut Map, function: FnPtr| {
            map_map(&ctx, map, &function)
        })
        .register_fn("replace", |ctx: NativeCallContext, text: &mut ImmutableString, find: &str, by: &str| {
            replace(&ctx, text, find, by)
        })
        .register_fn("replace", |ctx: NativeCallContext, text: &mut ImmutableString, find: char, by: &str| {
            replace(&ctx, text, find.encode_utf8(&mut [0; 4]), by)
        })
        .register_fn("replace", |ctx: NativeCallContext, text: &mut ImmutableString, find: &str, by: char| {
            replace(&ctx, text, find, by.encode_utf8(&mut [0; 4]))
        })
        .register_fn(
            "replace",
            |ctx: NativeCallContext, text: &mut ImmutableString, find: char, by: char| {
                replace(&ctx, text, find.encode_utf8(&mut [0; 4]), by.encode_utf8(&mut [0; 4]))
            },
        );
}
