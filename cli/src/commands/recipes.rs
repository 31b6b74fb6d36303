//! `ribwright recipes [NAME]`: the recipes that come with ribwright.

use crate::args::Recipes;
use crate::console::{Console, DONE, FAILED};

pub(crate) fn run(args: &Recipes, console: &mut Console<'_>) -> u8 {
    let recipes = ribwright_scripts::recipes();
    let Some(name) = &args.name else {
        let width = recipes.iter().map(|r| r.name.len()).max().unwrap_or(0);
        for recipe in recipes {
            console.say(&format!("{:width$}  {}", recipe.name, recipe.summary()));
        }
        return DONE;
    };
    match recipes.iter().find(|r| r.name == name) {
        Some(recipe) => {
            console.say(recipe.source.trim_end());
            DONE
        }
        None => {
            let e = ribwright_kernel::settings::unknown_name("recipe", name, recipes.iter().map(|r| r.name));
            console.error(&format!("error: {e}"));
            FAILED
        }
    }
}
