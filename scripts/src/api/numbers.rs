//! Arithmetic that makes integers and decimals interchangeable, with angles in degrees.
//!
//! The interpreter keeps whole numbers apart: there 1 / 2 is 0, and functions of angles take radians and
//! no whole numbers. A script about steel gets 0.5, and degrees as everywhere else at the door.

use super::{Called, raise};
use crate::convert;
use rhai::plugin::*;
use rhai::{Engine, FuncRegistration, NativeCallContext};
use ribwright_kernel::{Error, Result};

pub(super) fn register(engine: &mut Engine) {
    engine.register_global_module(exported_module!(calls).into());
    // Division and power of whole numbers are built into the interpreter; these take their place only
    // because the engine is told not to use its fast operators.
    engine
        .register_fn("/", |ctx: NativeCallContext, a: i64, b: i64| divide(&ctx, a, b))
        .register_fn("**", power);
    engine.register_fn("/=", |ctx: NativeCallContext, a: &mut Dynamic, b: i64| -> Called<()> {
        if let Ok(whole) = a.as_int() {
            *a = divide(&ctx, whole, b)?;
        }
        Ok(())
    });
    for (name, summary, act) in ANGLES_AND_ROOTS {
        let (name, act) = (*name, *act);
        FuncRegistration::new(name)
            .with_params_info(["x: Number", "Number"])
            .with_comments([format!("/// {summary}\n///\n/// ```rhai\n/// let y = {name}(0.5);\n/// ```")])
            .register_into_engine(engine, move |ctx: NativeCallContext, x: f64| call(&ctx, name, x, act));
        engine.register_fn(name, move |ctx: NativeCallContext, x: i64| {
            let x = convert::number(name, &x.into()).map_err(|e| raise(&ctx, e))?;
            call(&ctx, name, x, act)
        });
    }
}

/// A function of one number.
type OfOne = (&'static str, &'static str, fn(f64) -> f64);

const ANGLES_AND_ROOTS: &[OfOne] = &[
    ("sin", "Sine of an angle in degrees.", |x| x.to_radians().sin()),
    ("cos", "Cosine of an angle in degrees.", |x| x.to_radians().cos()),
    ("tan", "Tangent of an angle in degrees.", |x| x.to_radians().tan()),
    ("asin", "The angle in degrees that has this sine.", |x| x.asin().to_degrees()),
    ("acos", "The angle in degrees that has this cosine.", |x| x.acos().to_degrees()),
    ("atan", "The angle in degrees that has this tangent.", |x| x.atan().to_degrees()),
    ("sqrt", "Square root.", f64::sqrt),
];

fn call(ctx: &NativeCallContext, name: &str, x: f64, act: fn(f64) -> f64) -> Called<f64> {
    let y = act(x);
    if y.is_finite() {
        return Ok(y);
    }
    let error = Error::input(format!("{name}({x}) has no value")).remedy("check the number it is given");
    Err(raise(ctx, error))
}

/// The quotient: whole if it comes out even, else a decimal.
fn divide(ctx: &NativeCallContext, a: i64, b: i64) -> Called<Dynamic> {
    if b == 0 {
        return Err(raise(
            ctx,
            Error::input(format!("{a} / 0: nothing can be divided by zero"))
                .remedy("check the number below the line"),
        ));
    }
    #[allow(clippy::cast_precision_loss, reason = "numbers of a work are far below 2^52")]
    let decimal = a as f64 / b as f64;
    Ok(match (a.checked_rem(b), a.checked_div(b)) {
        (Some(0), Some(whole)) => whole.into(),
        _ => decimal.into(),
    })
}

/// The power: whole if base and exponent allow, else a decimal.
fn power(a: i64, b: i64) -> Dynamic {
    let whole = u32::try_from(b).ok().and_then(|b| a.checked_pow(b));
    #[allow(clippy::cast_precision_loss, reason = "numbers of a work are far below 2^52")]
    whole.map_or_else(|| Dynamic::from((a as f64).powf(b as f64)), Dynamic::from)
}

fn two(what: &str, a: &Dynamic, b: &Dynamic) -> Result<(f64, f64)> {
    Ok((convert::number(what, a)?, convert::number(what, b)?))
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
mod calls {
    /// The direction of the point `(x, y)` in degrees, counter-clockwise from +x.
    ///
    /// ```rhai
    /// let quarter = atan2(1, 0);
    /// ```
    #[rhai_fn(return_raw)]
    pub fn atan2(ctx: NativeCallContext, y: Dynamic, x: Dynamic) -> Called<f64> {
        let (y, x) = two("atan2", &y, &x).map_err(|e| raise(&ctx, e))?;
        Ok(y.atan2(x).to_degrees())
    }

    /// The length of the vector `(x, y)`.
    ///
    /// ```rhai
    /// let five = hypot(3, 4);
    /// ```
    #[rhai_fn(return_raw)]
    pub fn hypot(ctx: NativeCallContext, x: Dynamic, y: Dynamic) -> Called<f64> {
        let (x, y) = two("hypot", &x, &y).map_err(|e| raise(&ctx, e))?;
        Ok(x.hypot(y))
    }
}
